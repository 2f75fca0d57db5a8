//! The line that a finding is about, cut so that it fits the screen with its mark in sight.

use std::ops::Range;

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};
use unicode_width::UnicodeWidthChar as _;

use crate::document::Place;

/// Columns that the frame around the line takes, beside the line's number.
const FRAME: usize = 6;

/// Columns to keep in sight on either side of the mark, if there are any.
const AROUND: usize = 6;

/// One line, or a part of it, and the mark in it.
#[derive(Debug)]
pub(super) struct Window {
    name: String,
    line: usize,
    column: usize,
    text: String,
    mark: Range<usize>,
}

impl Window {
    /// The line of a place on a screen of some columns.
    pub(super) fn of(place: &Place, columns: usize) -> Self {
        let whole = place.source.harmless_text();
        let start = whole[..place.span.start].rfind('\n').map_or(0, |newline| newline + 1);
        let end = whole[start..].find('\n').map_or(whole.len(), |newline| start + newline);
        let line = &whole[start..end];
        let count = |to: usize| line[..to.clamp(start, end) - start].chars().count();
        let mark = count(place.span.start)..count(place.span.end).max(count(place.span.start));
        let chars: Vec<char> =
            line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let room = columns.saturating_sub(FRAME + place.line.to_string().len()).max(10);
        let (text, mark) = cut(&chars, mark, room);
        let name = place.source.name().to_owned();
        Self { name, line: place.line, column: place.column, text, mark }
    }

    /// The marked bytes of the text.
    pub(super) fn mark(&self) -> SourceSpan {
        (self.mark.start, self.mark.len()).into()
    }
}

/// The part of a line that fits, with an ellipsis where it was cut, and the bytes of the mark.
fn cut(chars: &[char], mark: Range<usize>, room: usize) -> (String, Range<usize>) {
    let width = |c: &char| c.width().unwrap_or(0);
    let whole: usize = chars.iter().map(width).sum();
    let mut from = 0;
    if whole > room {
        // Leave out characters in front until the mark's end is in sight, but not the mark.
        let wanted = (mark.end + AROUND).min(chars.len());
        let mut shown: usize = chars[..wanted].iter().map(width).sum();
        while shown + 2 > room && from < mark.start {
            shown -= width(&chars[from]);
            from += 1;
        }
    }
    let mut text = String::new();
    let mut used = 0;
    if from > 0 {
        text.push('…');
        used = 1;
    }
    let mut bytes = None;
    let mut mark_end = 0;
    for (index, c) in chars.iter().enumerate().skip(from) {
        if whole > room && used + width(c) + 1 > room {
            text.push('…');
            break;
        }
        if index == mark.start {
            bytes = Some(text.len());
        }
        text.push(*c);
        used += width(c);
        if index < mark.end {
            mark_end = text.len();
        }
    }
    let start = bytes.unwrap_or(text.len());
    (text, start..mark_end.max(start))
}

impl SourceCode for Window {
    fn read_span<'a>(
        &'a self,
        _: &SourceSpan,
        _: usize,
        _: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            self.text.as_bytes(),
            (0, self.text.len()).into(),
            self.line - 1,
            self.column - 1,
            1,
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::cut;

    fn shown(line: &str, mark: std::ops::Range<usize>, room: usize) -> (String, String) {
        let chars: Vec<char> = line.chars().collect();
        let (text, bytes) = cut(&chars, mark, room);
        let marked = text[bytes].to_owned();
        (text, marked)
    }

    #[test]
    fn a_line_that_fits_stays_whole() {
        assert_eq!(shown("a = 50,5", 4..8, 20), ("a = 50,5".into(), "50,5".into()));
    }

    #[test]
    fn a_long_line_is_cut_around_its_mark() {
        let line = "ramp = { to_celsius = 1250, kelvin_per_minute = 200 }";
        let (text, marked) = shown(line, 48..51, 24);
        assert_eq!(marked, "200");
        assert!(text.starts_with('…') && text.chars().count() <= 24, "{text}");
        let (text, marked) = shown(line, 0..4, 24);
        assert_eq!(marked, "ramp");
        assert!(text.ends_with('…') && text.chars().count() <= 24, "{text}");
    }

    #[test]
    fn a_mark_longer_than_the_screen_is_cut_too() {
        let (text, marked) = shown(&"x".repeat(200), 10..190, 24);
        assert!(text.chars().count() <= 24 && marked.chars().count() > 15, "{text}");
    }
}
