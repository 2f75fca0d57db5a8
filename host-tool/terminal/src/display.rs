//! How results and errors are displayed.

use anstream::ColorChoice;
use saggar_verdict::format::Scale;

/// Maximum width of text, in columns: longer lines are hard to read.
const WIDTH_MAX: usize = 100;

/// Minimum width: below it, wrapped text is no easier to read.
const WIDTH_MIN: usize = 30;

/// Width without a terminal and without `COLUMNS`.
const WIDTH_DEFAULT: usize = 80;

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

impl DisplayOptions {
    /// A terminal of this width, without colours, in °C; for tests.
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

/// Columns of the terminal, or else those of the variable `COLUMNS`.
pub fn width() -> usize {
    let of_terminal = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    let by_variable = || std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    of_terminal.or_else(by_variable).unwrap_or(WIDTH_DEFAULT).clamp(WIDTH_MIN, WIDTH_MAX)
}
