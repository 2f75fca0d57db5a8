//! Prints the keys of a file, and the keys that were set.

use std::io;
use std::path::Path;

use serde_json::json;

use crate::commands::{KeyChange, Sections};
use saggar_files::display_path;
use saggar_plant::faults::FaultKind;
use saggar_schedule::document::{KeySpec, ValueKind, json_schema, markdown};
use saggar_schedule::fault_list::{kind_phrase, kinds_markdown};
use saggar_schedule::keys::FileKind;
use saggar_terminal::DisplayOptions;
use saggar_terminal::{Printer, STRONG, StyledLine, stdout};
use saggar_terminal::{print_confirmation, print_json};

/// Prints sections of a file as text, as tables in Markdown, or as a JSON schema.
///
/// # Errors
/// The output cannot be written.
pub fn keys(
    file: FileKind,
    sections: &Sections,
    tables: bool,
    display: &DisplayOptions,
) -> io::Result<()> {
    if display.json {
        return print_json(&match sections.as_slice() {
            [(path, keys)] if !path.is_empty() => json_schema(path, keys),
            [..] => file.json_schema(),
        });
    }
    let mut out = stdout(display);
    for (nth, (path, keys)) in sections.iter().enumerate() {
        if nth > 0 {
            out.blank()?;
        }
        let head = if path.is_empty() { "Top of the file" } else { path };
        if tables {
            if sections.len() > 1 {
                out.line(format!("## {head}"))?;
                out.blank()?;
            }
            for line in markdown(keys).lines() {
                out.line(line)?;
            }
            continue;
        }
        let head = StyledLine::default().styled(STRONG, head);
        out.wrapped(head, "", "  ")?;
        for key in *keys {
            out.wrapped(words(key), "  ", "      ")?;
        }
    }
    let lists_kinds = sections.iter().any(|(path, _)| path == "fault");
    if file == FileKind::Faults && lists_kinds {
        kinds(&mut out, tables)?;
    }
    out.flush()
}

/// The kinds of faults, after the keys of a fault.
fn kinds(out: &mut Printer<'_>, tables: bool) -> io::Result<()> {
    out.blank()?;
    if tables {
        return kinds_markdown().lines().try_for_each(|line| out.line(line));
    }
    let head =
        StyledLine::default().styled(STRONG, "Kinds, with default and range of severity");
    out.wrapped(head, "", "  ")?;
    FaultKind::ALL
        .into_iter()
        .try_for_each(|kind| out.wrapped(kind_phrase(kind), "  ", "      "))
}

/// A key in a line.
fn words(key: &KeySpec) -> String {
    let section = matches!(key.kind, ValueKind::Section(_) | ValueKind::List { .. });
    let allowed = if section { String::new() } else { format!(", {}", key.allowed_text()) };
    let text = format!("{}: {}{allowed} ({})", key.name, key.meaning, key.default_text());
    without_markdown(&text)
}

/// A text without the marks of code, and with the words of its links alone.
fn without_markdown(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, from)) = rest.split_once('[') {
        plain += before;
        rest = match from.split_once("](") {
            Some((words, link)) if !words.contains(['[', ']']) => {
                plain += words;
                link.split_once(')').map_or("", |(_, after)| after)
            }
            Some(_) | None => {
                plain.push('[');
                from
            }
        };
    }
    (plain + rest).replace('`', "")
}

/// Confirms the keys that were set.
///
/// # Errors
/// The output cannot be written.
pub fn set(file: &Path, changes: &[KeyChange], display: &DisplayOptions) -> io::Result<()> {
    let file = display_path(file);
    let set: Vec<String> =
        changes.iter().map(|(path, value)| format!("{path} = {value}")).collect();
    print_confirmation(
        &format!("{file}: {}", set.join(", ")),
        json!({ "file": file, "set": set }),
        display,
    )
}

#[cfg(test)]
mod tests {
    use super::without_markdown;

    #[test]
    fn links_are_their_words_and_other_brackets_stay() {
        let text = "see [Physics](physics.md#glass) of `[[stage]]` 2, [one] or [two](x)";
        assert_eq!(without_markdown(text), "see Physics of [[stage]] 2, [one] or two");
    }
}
