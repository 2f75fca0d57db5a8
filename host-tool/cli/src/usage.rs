//! The command line, and what is said when it cannot be understood.

use std::ffi::OsString;
use std::process::ExitCode;

use clap::Parser as _;
use clap::error::ErrorKind;

use crate::args::Args;
use crate::error::EXIT_BAD_INPUT;
use crate::output;
use saggar_files::shown;

/// Most characters of an argument that are quoted in an error.
const CHARS_MAX: usize = 200;

/// What was typed, or the exit code if it makes no sense, or asks for nothing but help. Whoever
/// asks for JSON gets the error as JSON, like every other.
///
/// # Errors
/// The exit code.
pub fn arguments() -> Result<Args, ExitCode> {
    let typed: Vec<OsString> = std::env::args_os().collect();
    Args::try_parse_from(&typed).map_err(|error| {
        let code = ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(EXIT_BAD_INPUT));
        let json = typed.iter().any(|typed| typed == "--json");
        // An error quotes what was typed in the midst of its colours, so that nothing can be
        // written out in it any more: it is made again, of arguments that are.
        let shown = typed.iter().map(|typed| shown(&typed.to_string_lossy(), CHARS_MAX));
        match Args::try_parse_from(shown) {
            Err(error) if json && error.use_stderr() => {
                output::usage_for_programs(&words(&error))
            }
            Err(error) => output::usage(&error.render().ansi().to_string(), error.use_stderr()),
            // It makes sense written out: the first error, without colours.
            Ok(_) if json => output::usage_for_programs(&words(&error)),
            Ok(_) => output::usage_without_colours(&error.render().to_string()),
        }
        code
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
