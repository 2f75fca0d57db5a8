//! The arguments together with the terminal: what to do, and how to display it.

use std::io::IsTerminal as _;

use anstream::ColorChoice;
use saggar_terminal::{DisplayOptions, width};
use saggar_verdict::format::Scale;

use crate::args::{Color, Command, CommandLine};

/// One call of the program.
#[derive(Debug)]
pub struct Invocation {
    /// What to do.
    pub command: Command,
    /// How to display the result.
    pub display: DisplayOptions,
}

impl From<CommandLine> for Invocation {
    fn from(args: CommandLine) -> Self {
        let (stdout_color, stderr_color) = match args.global.color {
            Color::Auto => (
                anstream::AutoStream::choice(&std::io::stdout()),
                anstream::AutoStream::choice(&std::io::stderr()),
            ),
            Color::Always => (ColorChoice::AlwaysAnsi, ColorChoice::AlwaysAnsi),
            Color::Never => (ColorChoice::Never, ColorChoice::Never),
        };
        let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
        let terminal = std::io::stderr().is_terminal() && !dumb;
        let display = DisplayOptions {
            json: args.global.json,
            scale: if args.global.fahrenheit { Scale::Fahrenheit } else { Scale::Celsius },
            stdout_color,
            stderr_color,
            for_terminal: terminal || args.global.color == Color::Always,
            unicode: supports_unicode::on(supports_unicode::Stream::Stderr),
            width: width(),
        };
        Self { command: args.command, display }
    }
}
