//! The arguments together with the terminal: what to do, and how to display it.

use std::io::IsTerminal as _;

use anstream::ColorChoice;
use saggar_verdict::format::Scale;

use crate::args::{Color, Command, CommandLine};

/// Maximum width of text, in columns: longer lines are hard to read.
const WIDTH_MAX: usize = 100;

/// Minimum width: below it, wrapped text is no easier to read.
const WIDTH_MIN: usize = 30;

/// Width without a terminal and without `COLUMNS`.
const WIDTH_DEFAULT: usize = 80;

/// One call of the program.
#[derive(Debug)]
pub struct Invocation {
    /// What to do.
    pub command: Command,
    /// How to display the result.
    pub display: DisplayOptions,
}

/// How to display results and errors.
#[derive(Clone, Copy, Debug)]
pub struct DisplayOptions {
    /// As JSON.
    pub json: bool,
    /// Temperature scale.
    pub scale: Scale,
    /// Colours on standard output.
    pub stdout_color: ColorChoice,
    /// Colours on standard error.
    pub stderr_color: ColorChoice,
    /// For a terminal: diagnostics show the source line that they are about.
    pub for_terminal: bool,
    /// Line drawing characters beyond ASCII may be used.
    pub unicode: bool,
    /// Width in columns.
    pub width: usize,
}

#[cfg(test)]
impl DisplayOptions {
    /// A terminal of this width, without colours, in °C.
    pub fn plain_terminal(width: usize) -> Self {
        Self {
            json: false,
            scale: Scale::Celsius,
            stdout_color: ColorChoice::Never,
            stderr_color: ColorChoice::Never,
            for_terminal: true,
            unicode: true,
            width,
        }
    }
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

/// Columns of the terminal, or else those of the variable `COLUMNS`.
pub fn width() -> usize {
    let of_terminal = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    let by_variable = || std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    of_terminal.or_else(by_variable).unwrap_or(WIDTH_DEFAULT).clamp(WIDTH_MIN, WIDTH_MAX)
}
