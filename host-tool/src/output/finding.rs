//! One finding: drawn with the line it is about, as a line of text, or as JSON.

use std::fmt;
use std::io::{self, Write};

use anstream::ColorChoice;
use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode,
    ThemeCharacters, ThemeStyles,
};
use serde_json::json;
use textwrap::{WordSeparator, WordSplitter};

use super::window::Window;
use super::wrap::{loose, wrapped};
use crate::document::Finding;
use crate::say::bound;
use crate::settings::Display;

/// A finding for a program.
pub(super) fn json(finding: &Finding) -> serde_json::Value {
    json!({
        "file": finding.file,
        "line": finding.place.as_ref().map(|place| place.line),
        "column": finding.place.as_ref().map(|place| place.column),
        "message": finding.message,
        "help": finding.help,
    })
}

/// A finding for a person.
pub(super) fn show(
    out: &mut impl Write,
    finding: &Finding,
    display: &Display,
) -> io::Result<()> {
    if display.drawn && finding.place.is_some() {
        return draw(out, finding, display);
    }
    let place = finding
        .place
        .as_ref()
        .map_or_else(String::new, |place| format!(":{}:{}", place.line, place.column));
    if display.drawn {
        wrapped(
            out,
            &format!("{}{place}: {}", finding.file, finding.message),
            "",
            "  ",
            display.width,
        )?;
        return match &finding.help {
            Some(help) => {
                wrapped(out, &format!("help: {help}"), "  ", "        ", display.width)
            }
            None => Ok(()),
        };
    }
    // One line each: editors and scripts read these.
    writeln!(out, "{}{place}: {}", finding.file, finding.message)?;
    match &finding.help {
        Some(help) => writeln!(out, "    help: {help}"),
        None => Ok(()),
    }
}

fn draw(out: &mut impl Write, finding: &Finding, display: &Display) -> io::Result<()> {
    let colours = display.stderr_color != ColorChoice::Never;
    let theme = GraphicalTheme {
        characters: if display.unicode {
            ThemeCharacters::unicode()
        } else {
            ThemeCharacters::ascii()
        },
        styles: if colours { ThemeStyles::ansi() } else { ThemeStyles::none() },
    };
    let mut drawing = String::new();
    GraphicalReportHandler::new_themed(theme)
        .with_width(display.width)
        .with_context_lines(0)
        .with_break_words(false)
        .with_word_separator(WordSeparator::AsciiSpace)
        .with_word_splitter(WordSplitter::NoHyphenation)
        .render_report(&mut drawing, &Drawn::of(finding, display.width))
        .map_err(io::Error::other)?;
    writeln!(out, "{}", loose(&drawing))
}

/// A finding with the one line that it is about.
#[derive(Debug)]
struct Drawn<'f> {
    finding: &'f Finding,
    window: Option<Window>,
}

impl<'f> Drawn<'f> {
    fn of(finding: &'f Finding, width: usize) -> Self {
        let window = finding.place.as_ref().map(|place| Window::of(place, width));
        Self { finding, window }
    }
}

impl fmt::Display for Drawn<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&bound(&self.finding.message))
    }
}

impl std::error::Error for Drawn<'_> {}

impl Diagnostic for Drawn<'_> {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let help = bound(self.finding.help.as_ref()?);
        Some(Box::new(help))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.window.as_ref().map(|window| window as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let label = LabeledSpan::new_with_span(None, self.window.as_ref()?.mark());
        Some(Box::new(std::iter::once(label)))
    }
}
