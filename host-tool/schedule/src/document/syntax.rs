//! Explains syntax errors and how to fix them.

use std::sync::Arc;

use toml::de::Error;

use saggar_files::{ByteSpan, Diagnostics, SourceText, is_forbidden_in_name, sanitized};

/// Lines with errors that are explained one by one. A file with more is probably none of ours.
const LINES_EXPLAINED: usize = 5;

/// Notes one diagnostic for each line with errors: further errors on a line follow from the first.
pub(super) fn note_syntax_errors(
    source: &Arc<SourceText>,
    errors: &[Error],
    diagnostics: &Diagnostics,
    lists: &[&str],
) {
    let mut lines_seen = Vec::new();
    let mut lists_seen = Vec::new();
    let mut unexplained = None;
    for error in errors {
        let span = widen_empty_span(source.text(), error.span().unwrap_or(0..0));
        let (line, _) = source.line_column(span.start);
        if lines_seen.contains(&line) {
            continue;
        }
        lines_seen.push(line);
        if let Some(list) = single_bracket_list(source.text(), &span, lists) {
            if !lists_seen.contains(&list) {
                lists_seen.push(list);
                let message = format!("[{list}] is here a second time");
                let help = format!("write [[{list}]] with two brackets, each time");
                diagnostics.note(&span, message, help);
            }
            continue;
        }
        // Duplicate keys follow from the missing bracket.
        if !lists_seen.is_empty() && error.message().contains("duplicate key") {
            continue;
        }
        if lines_seen.len() > LINES_EXPLAINED {
            unexplained.get_or_insert((span, 0)).1 += 1;
            continue;
        }
        let (span, message, help) = describe(source.text(), span, error.message(), lists);
        diagnostics.note(&span, message, help);
    }
    if let Some((span, count)) = unexplained {
        let lines = if count == 1 { "line is" } else { "lines are" };
        let message = format!("{count} more {lines} not TOML");
        let help =
            "check that this is the right file: it should be a schedule or a furnace profile";
        diagnostics.note(&span, message, help);
    }
}

/// The list whose header on this line has one bracket instead of two.
fn single_bracket_list<'l>(text: &str, span: &ByteSpan, lists: &[&'l str]) -> Option<&'l str> {
    let from = text.get(..span.start)?.rfind('\n').map_or(0, |newline| newline + 1);
    let line = text.get(from..)?.lines().next()?;
    let line = line.split('#').next()?.trim();
    let head = line.strip_prefix('[')?.strip_suffix(']')?.trim();
    lists.iter().copied().find(|list| *list == head)
}

/// Widens an empty span to the next or the previous character, so that there is something to mark.
fn widen_empty_span(text: &str, span: ByteSpan) -> ByteSpan {
    if !span.is_empty() {
        return span;
    }
    let rest = text.get(span.start..).unwrap_or("");
    match rest.chars().next() {
        Some(c) if c != '\n' && c != '\r' => span.start..span.start + c.len_utf8(),
        _ => {
            let before = text.get(..span.start).unwrap_or("").chars().next_back();
            let back = before.filter(|c| *c != '\n').map_or(0, char::len_utf8);
            span.start - back..span.start
        }
    }
}

fn describe(
    text: &str,
    span: ByteSpan,
    message: &str,
    lists: &[&str],
) -> (ByteSpan, String, String) {
    if let Some(comma) = decimal_comma(text, &span) {
        let written = &text[comma.clone()];
        let point = written.replace(',', ".");
        return (
            comma.clone(),
            format!("`{written}` has a decimal comma"),
            format!("write it with a point: {point}"),
        );
    }
    let at = text.get(span.clone()).unwrap_or("");
    if message.contains("duplicate key") {
        let message = format!("`{}` is given twice", sanitized(at, 40));
        return (span, message, "each key stands once in its section: remove one".to_owned());
    }
    if escaped(text, &span) {
        let message =
            "TOML reads a backslash between \" \" as the start of an escape".to_owned();
        return (span, message, BACKSLASH_CURE.to_owned());
    }
    let not_toml = format!("this is not TOML: {message}");
    let help = if at.chars().any(is_forbidden_in_name) {
        "there is an invisible character here: type the line again"
    } else if message.contains("string") {
        "text stands between two straight quotation marks on one line: \"like this\""
    } else if message.contains("missing value") || message.contains("missing assignment") {
        "a line is: key = value"
    } else if message.contains("inline table") {
        "inside braces: key = value, key = value }"
    } else {
        let list = lists.first().unwrap_or(&"list");
        let help = format!(
            "a line is `key = value`, `[section]` or `[[{list}]]`; text needs \"quotation marks\""
        );
        return (span, not_toml, help);
    };
    (span, not_toml, help.to_owned())
}

/// The cure for a Windows path pasted with its backslashes.
const BACKSLASH_CURE: &str =
    "in a path write / instead of \\, which works on Windows too, or put it between ' '";

/// Whether the error is inside a quoted string, after a backslash in it.
fn escaped(text: &str, span: &ByteSpan) -> bool {
    let inside_after_backslash = |end: usize| {
        let before = text.get(..end).unwrap_or("");
        let before = before.rsplit('\n').next().unwrap_or("");
        before.matches('"').count() % 2 == 1
            && before.rsplit('"').next().is_some_and(|string| string.contains('\\'))
    };
    // An escape that the closing quote cuts short is reported at that quote.
    inside_after_backslash(span.start) || inside_after_backslash(span.end)
}

/// The number with a decimal comma that the span is in or next to.
fn decimal_comma(text: &str, span: &ByteSpan) -> Option<ByteSpan> {
    let bytes = text.as_bytes();
    let digit = |index: usize| bytes.get(index).is_some_and(u8::is_ascii_digit);
    let line_start = text.get(..span.start)?.rfind('\n').map_or(0, |newline| newline + 1);
    let line_end =
        text.get(span.start..)?.find('\n').map_or(text.len(), |end| span.start + end);
    let comma = (line_start..line_end).find(|index| {
        bytes.get(*index) == Some(&b',')
            && *index > line_start
            && digit(*index - 1)
            && digit(*index + 1)
            && !inside_quotes_or_brackets(&bytes[line_start..*index])
    })?;
    let mut start = comma;
    while start > line_start && digit(start - 1) {
        start -= 1;
    }
    let mut end = comma + 1;
    while digit(end) {
        end += 1;
    }
    Some(start..end)
}

/// Between `[` and `]` a comma between digits separates two values; in quotes it is text.
fn inside_quotes_or_brackets(before: &[u8]) -> bool {
    let count = |wanted: u8| before.iter().filter(|byte| **byte == wanted).count();
    count(b'[') > count(b']') || count(b'"') % 2 == 1
}
