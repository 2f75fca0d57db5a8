//! What is made of the description of the command line: completion scripts and manual pages.

use std::io;

use clap::{Command, CommandFactory as _};
use clap_complete::Shell;

use super::CommandLine;
use crate::commands::ManualPage;

/// A completion script for a shell.
pub fn completions(shell: Shell) -> Vec<u8> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut CommandLine::command(), "saggar", &mut script);
    script
}

/// The manual pages of all commands, that of the tool itself first.
///
/// # Errors
/// A page cannot be made.
pub fn manual_pages() -> io::Result<Vec<ManualPage>> {
    let mut top = CommandLine::command().disable_help_subcommand(true);
    // Fills in the names of the commands inside commands.
    top.build();
    let mut pages = Vec::new();
    add_pages(&top, &mut pages)?;
    Ok(pages)
}

fn add_pages(command: &Command, pages: &mut Vec<ManualPage>) -> io::Result<()> {
    let man = clap_mangen::Man::new(command.clone());
    let mut text = Vec::new();
    man.render(&mut text)?;
    pages.push(ManualPage { file: man.get_filename(), text });
    command.get_subcommands().try_for_each(|inner| add_pages(inner, pages))
}
