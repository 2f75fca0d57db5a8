//! Wraps text, and keeps together a number and its unit, and whatever contains no space, such as a
//! path.

use std::io;

use textwrap::{Options, WordSeparator, WordSplitter};

use crate::screen::{Printer, StyledLine};
use saggar_verdict::format::with_nonbreaking_units;

impl Printer<'_> {
    /// Writes wrapped text with an indent for the first line and one for the others.
    pub fn wrapped(
        &mut self,
        text: impl Into<StyledLine>,
        first: impl Into<StyledLine>,
        rest: &str,
    ) -> io::Result<()> {
        let (text, first) = (text.into(), first.into());
        let options = Options::new(self.width);
        let options = options.initial_indent(first.as_str()).subsequent_indent(rest);
        broken(text.as_str(), options).iter().try_for_each(|line| self.styled_line(line))
    }

    /// Writes lines that a library drew, wrapped, each with its own indent and two more columns.
    pub fn wrapped_styled_lines(&mut self, lines: &str) -> io::Result<()> {
        for line in lines.lines() {
            let blanks = line.len() - line.trim_start_matches(' ').len();
            let rest = " ".repeat(blanks + 2);
            let options = Options::new(self.width).subsequent_indent(&rest);
            broken(line, options).iter().try_for_each(|line| self.styled_line(line))?;
        }
        Ok(())
    }

    /// Writes the digits of a digest, in three lines on a narrow screen.
    pub fn digest(&mut self, whole: &str) -> io::Result<()> {
        let piece =
            if self.width < whole.len() + 2 { whole.len().div_ceil(3) } else { whole.len() };
        for from in (0..whole.len()).step_by(piece.max(1)) {
            let to = (from + piece).min(whole.len());
            self.line(format!("  {}", whole.get(from..to).unwrap_or_default()))?;
        }
        Ok(())
    }
}

/// The lines of a text.
pub fn lines(text: &str, columns: usize) -> Vec<String> {
    broken(text, Options::new(columns))
}

fn broken(text: &str, options: Options<'_>) -> Vec<String> {
    let options = options
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .break_words(false);
    textwrap::wrap(&with_nonbreaking_units(text), options)
        .iter()
        .map(|line| loose(line))
        .collect()
}

/// Turns non-breaking spaces into spaces again.
fn loose(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

#[cfg(test)]
mod tests {
    use super::Printer;

    #[test]
    fn a_drawn_line_keeps_its_indent_and_its_colours() {
        let mut out = Vec::new();
        let drawn = "\x1b[1merror:\x1b[0m a value\n\n  [possible values: one, two]\n";
        Printer::into(&mut out, 24).wrapped_styled_lines(drawn).expect("written");
        let text = String::from_utf8(out).expect("text");
        let wrapped = "\x1b[1merror:\x1b[0m a value\n\n  [possible values:\n    one, two]\n";
        assert_eq!(text, wrapped);
    }

    fn lines(text: &str, columns: usize) -> String {
        let mut out = Vec::new();
        Printer::into(&mut out, columns).wrapped(text, "", "  ").expect("written");
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn a_number_keeps_its_unit_at_every_width() {
        let text =
            "predicted depth 0.68 mm (margin 36 %), at 1120 °C and 40 K/min, 2 h 45 min.";
        for columns in 30..90 {
            for line in lines(text, columns).lines() {
                assert!(line.chars().count() <= columns, "{columns}: {line}");
                assert!(!line.ends_with(|c: char| c.is_ascii_digit()), "{columns}: {line}");
            }
        }
    }

    #[test]
    fn a_path_is_never_broken() {
        let path = "rehearsals/infiltrate-alumina+mains70+control-open@45/report.html";
        let wrapped = lines(&format!("Report: {path}"), 30);
        assert_eq!(wrapped, format!("Report:\n  {path}\n"));
    }
}
