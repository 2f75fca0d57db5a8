//! The command line, and what is said when it cannot be understood.

use std::io::{self, Write as _};
use std::process::ExitCode;

use clap::Parser as _;
use clap::error::ErrorKind;
use serde_json::json;

use crate::args::Args;
use crate::error::EXIT_BAD_INPUT;

/// What was typed, or the exit code if it makes no sense, or asks for nothing but help. Whoever
/// asks for JSON gets the error as JSON, like every other.
///
/// # Errors
/// The exit code.
pub fn arguments() -> Result<Args, ExitCode> {
    Args::try_parse().map_err(|error| {
        if error.use_stderr() && std::env::args_os().any(|typed| typed == "--json") {
            let value = json!({ "ok": false, "error": words(&error), "findings": [] });
            // If this cannot be written either, the exit code still says it.
            let _ = writeln!(io::stdout().lock(), "{value:#}");
            return ExitCode::from(EXIT_BAD_INPUT);
        }
        let _ = error.print();
        ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(EXIT_BAD_INPUT))
    })
}

/// The error in one line, without the usage below it.
fn words(error: &clap::Error) -> String {
    let none =
        [ErrorKind::MissingSubcommand, ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand];
    if none.contains(&error.kind()) {
        return "no command is given: see saggar --help".to_owned();
    }
    let whole = error.render().to_string();
    let told = whole.split("\n\nUsage:").next().unwrap_or_default();
    let told = told.split("\n\nFor more information").next().unwrap_or_default();
    let told = told.trim_start_matches("error: ");
    told.split_whitespace().collect::<Vec<_>>().join(" ")
}
