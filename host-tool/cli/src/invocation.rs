//! What the arguments mean, with the surroundings taken into account.

use std::io::IsTerminal as _;

use anstream::ColorChoice;
use saggar_plant::format::Scale;

use crate::args::{Color, Command, CommandLine};

/// Widest text, in columns: longer lines are hard to read.
const WIDTH_MAX: usize = 100;

/// Narrowest: below, wrapping helps nobody.
const WIDTH_MIN: usize = 30;

/// Width when nobody says one.
const WIDTH_DEFAULT: usize = 80;

/// All that a run depends on.
#[derive(Debug)]
pub struct Invocation {
    /// What to do.
    pub command: Command,
    /// How to show the result.
    pub display: DisplayOptions,
}

/// How to show things.
#[derive(Clone, Copy, Debug)]
pub struct DisplayOptions {
    /// For a program, not a person.
    pub json: bool,
    /// The scale of temperatures.
    pub scale: Scale,
    /// Colours on standard output.
    pub stdout_color: ColorChoice,
    /// Colours on standard error.
    pub stderr_color: ColorChoice,
    /// Findings with the lines they are about, drawn for the eye.
    pub for_terminal: bool,
    /// Lines and arrows beyond ASCII.
    pub unicode: bool,
    /// Columns.
    pub width: usize,
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

/// Columns of the terminal, or what `COLUMNS` says where there is none.
pub fn width() -> usize {
    let of_terminal = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    let told = || std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    of_terminal.or_else(told).unwrap_or(WIDTH_DEFAULT).clamp(WIDTH_MIN, WIDTH_MAX)
}
