//! The only access to standard output and standard error.
//!
//! Text from a file, a device or the command line may contain escape sequences, marks that change the
//! direction of reading, or invisible characters. All of them are escaped here, and no other module
//! writes to the streams. Our own colours are added in a [`StyledLine`], beside the text.

use std::io::{self, Write};

use anstream::AutoStream;
use anstyle::{AnsiColor, Style};
use serde_json::Value;

use crate::display::{self, DisplayOptions};
use saggar_files::{escape_hidden, escape_hidden_json};

/// Success.
pub const GOOD: Style = AnsiColor::Green.on_default().bold();
/// Failure.
pub const BAD: Style = AnsiColor::Red.on_default().bold();
/// What is not known.
pub const UNKNOWN: Style = AnsiColor::Yellow.on_default().bold();
/// A heading.
pub const STRONG: Style = Style::new().bold();

/// One line of escaped text, with our own colours.
#[derive(Clone, Debug, Default)]
pub struct StyledLine(String);

impl StyledLine {
    /// Appends text.
    pub fn plain(mut self, text: &str) -> Self {
        self.0 += &escape_hidden(text);
        self
    }

    /// Appends text in this style.
    pub fn styled(self, style: Style, text: &str) -> Self {
        let mut whole = self;
        whole.0 += &format!("{style}{}{style:#}", escape_hidden(text));
        whole
    }

    /// The text, with its colours.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl<T: AsRef<str>> From<T> for StyledLine {
    fn from(text: T) -> Self {
        Self(escape_hidden(text.as_ref()))
    }
}

/// Cursor movements and the like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cursor {
    /// Up by some lines.
    Up(usize),
    /// To the start of the line.
    LineStart,
    /// Erases the rest of the line.
    EraseRest,
    /// Erases everything from the cursor on.
    EraseBelow,
    /// Saves the position.
    Save,
    /// Returns to the saved position.
    Restore,
}

/// Writes to one of the streams.
pub struct Printer<'a> {
    to: Box<dyn Write + 'a>,
    /// Width of wrapped text, in columns.
    pub width: usize,
}

/// Standard output.
pub fn stdout(display: &DisplayOptions) -> Printer<'static> {
    let to = Box::new(AutoStream::new(io::stdout().lock(), display.stdout_color));
    Printer { to, width: display.width }
}

/// Standard error.
pub fn stderr(display: &DisplayOptions) -> Printer<'static> {
    let to = Box::new(AutoStream::new(io::stderr().lock(), display.stderr_color));
    Printer { to, width: display.width }
}

/// Standard output without colours and wrapping.
pub fn plain_stdout() -> Printer<'static> {
    Printer { to: Box::new(io::stdout().lock()), width: usize::MAX }
}

/// One of the streams while the command line is not parsed yet: colours as the terminal allows.
pub fn before_parsing(to_stderr: bool) -> Printer<'static> {
    let to: Box<dyn Write> = if to_stderr {
        Box::new(AutoStream::auto(io::stderr().lock()))
    } else {
        Box::new(AutoStream::auto(io::stdout().lock()))
    };
    Printer { to, width: display::width() }
}

impl Printer<'_> {
    /// A line.
    pub fn line(&mut self, line: impl Into<StyledLine>) -> io::Result<()> {
        writeln!(self.to, "{}", line.into().0)
    }

    /// An empty line.
    pub fn blank(&mut self) -> io::Result<()> {
        writeln!(self.to)
    }

    /// Text within a line, to be followed by [`Self::cursor`] or [`Self::blank`] only.
    pub fn text(&mut self, text: impl Into<StyledLine>) -> io::Result<()> {
        write!(self.to, "{}", text.into().0)
    }

    /// Sends a cursor sequence.
    pub fn cursor(&mut self, cursor: Cursor) -> io::Result<()> {
        match cursor {
            Cursor::Up(lines) => write!(self.to, "\x1b[{lines}A"),
            Cursor::LineStart => write!(self.to, "\r"),
            Cursor::EraseRest => write!(self.to, "\x1b[K"),
            Cursor::EraseBelow => write!(self.to, "\x1b[J"),
            Cursor::Save => write!(self.to, "\x1b7"),
            Cursor::Restore => write!(self.to, "\x1b8"),
        }
    }

    /// Lines with colours that a library drew: colour sequences stay, all others are escaped. Foreign
    /// text in them has to be escaped before, or it could contain colours.
    pub fn styled_lines(&mut self, lines: &str) -> io::Result<()> {
        lines.lines().try_for_each(|line| self.styled_line(line))
    }

    /// One such line.
    pub fn styled_line(&mut self, line: &str) -> io::Result<()> {
        let mut rest = line;
        while let Some((before, from)) = rest.split_once('\x1b') {
            let colour = colour(from);
            write!(self.to, "{}", escape_hidden(before))?;
            match colour {
                Some(colour) => write!(self.to, "\x1b{colour}")?,
                None => write!(self.to, "{}", escape_hidden("\x1b"))?,
            }
            rest = &from[colour.map_or(0, str::len)..];
        }
        writeln!(self.to, "{}", escape_hidden(rest))
    }

    /// A value for programs, over several lines.
    pub fn json(&mut self, value: &Value) -> io::Result<()> {
        self.json_text(&format!("{value:#}\n"))
    }

    /// A value for programs, on one line.
    pub fn json_row(&mut self, value: &Value) -> io::Result<()> {
        self.json_text(&format!("{value}\n"))
    }

    /// JSON that is text already.
    pub fn json_text(&mut self, json: &str) -> io::Result<()> {
        self.to.write_all(escape_hidden_json(json).as_bytes())
    }

    /// Bytes that were generated from the description of the command line and contain no foreign text.
    pub fn raw(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.to.write_all(bytes)
    }

    /// Writes out what is buffered.
    pub fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

impl<'a> Printer<'a> {
    /// Into a buffer, for tests.
    pub fn into(buffer: &'a mut Vec<u8>, width: usize) -> Self {
        Self { to: Box::new(buffer), width }
    }
}

/// The colour sequence after an escape character: `[1;31m`.
fn colour(text: &str) -> Option<&str> {
    let parameters = text.strip_prefix('[')?;
    let end = parameters.find(|c: char| !(c.is_ascii_digit() || c == ';'))?;
    parameters[end..].starts_with('m').then(|| &text[..end + 2])
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn written(write: impl FnOnce(&mut Printer<'_>) -> io::Result<()>) -> String {
        let mut buffer = Vec::new();
        write(&mut Printer::into(&mut buffer, 80)).expect("written");
        String::from_utf8(buffer).expect("text")
    }

    #[test]
    fn text_of_others_is_written_out_and_colours_of_ours_stay() {
        let red = AnsiColor::Red.on_default();
        let line = StyledLine::from("a\x1b[31m\n").styled(red, "b\u{9b}").plain("\u{202e}");
        let text = written(|out| out.line(line));
        assert_eq!(text, "a\\u{1b}[31m\\u{a}\x1b[31mb\\u{9b}\x1b[0m\\u{202e}\n");
    }

    #[test]
    fn drawings_keep_their_colours_and_no_other_escape() {
        let text = written(|out| {
            out.styled_lines("\x1b[1m\x1b[1;31ma\x1b[0m\x1b[2J\x1b]0;t\x07\x1b\nb")
        });
        let rest = "\\u{1b}[2J\\u{1b}]0;t\\u{7}\\u{1b}";
        assert_eq!(text, format!("\x1b[1m\x1b[1;31ma\x1b[0m{rest}\nb\n"));
    }

    #[test]
    fn programs_read_what_was_meant() {
        let value = json!({ "a": "\x1b\u{9b}\u{202e}" });
        let text = written(|out| out.json_row(&value));
        assert_eq!(text, "{\"a\":\"\\u001b\\u009b\\u202e\"}\n");
    }
}
