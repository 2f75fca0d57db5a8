//! Text in lines of at most so many columns, as far as that goes without tearing apart what
//! belongs together: a number and its unit, and whatever has no blank in it, paths above all.

use std::io::{self, Write};

use textwrap::{Options, WordSeparator, WordSplitter};

use crate::say::bound;

/// Writes a text with something in front of the first line and of all others.
pub(super) fn wrapped(
    out: &mut impl Write,
    text: &str,
    first: &str,
    rest: &str,
    columns: usize,
) -> io::Result<()> {
    let options = Options::new(columns)
        .initial_indent(first)
        .subsequent_indent(rest)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .break_words(false);
    for line in textwrap::wrap(&bound(text), options) {
        writeln!(out, "{}", loose(&line))?;
    }
    Ok(())
}

/// A text with plain blanks again, once its lines are made.
pub(super) fn loose(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    fn lines(text: &str, columns: usize) -> String {
        let mut out = Vec::new();
        wrapped(&mut out, text, "", "  ", columns).expect("written");
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn a_number_keeps_its_unit_at_every_width() {
        let text =
            "front could have gone 0.68 mm (margin 36 %), at 1120 °C and 40 K/min, 2 h 45 min.";
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
        let told = lines(&format!("Report: {path}"), 30);
        assert_eq!(told, format!("Report:\n  {path}\n"));
    }
}
