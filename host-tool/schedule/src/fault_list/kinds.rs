//! The kinds of faults in words, for help and reference pages.

use saggar_plant::faults::{FaultKind, Severity};

use crate::document::with_digit_groups;

/// A kind in a phrase: "6 µV less a minute, −600 to 600"; `None` if it is there or not.
fn severity_phrase(kind: FaultKind) -> Option<String> {
    let Severity { unit, default, range: (low, high), whole } = kind.severity()?;
    let [default, low, high] = [default, low, high].map(with_digit_groups);
    Some(match whole {
        true => format!("{unit} {default}, {low} to {high}"),
        false => format!("{default} {unit}, {low} to {high}"),
    })
}

/// What breaks, how much by default and at most, and the part that it needs.
pub fn kind_phrase(kind: FaultKind) -> String {
    let severity =
        severity_phrase(kind).map_or_else(String::new, |words| format!(" ({words})"));
    let part =
        kind.needs().map_or_else(String::new, |part| format!("; needs: {}", part.name()));
    format!("{}: {}{severity}{part}", kind.name(), kind.meaning().trim_end_matches('.'))
}

/// All kinds as a table in Markdown.
pub fn kinds_markdown() -> String {
    let mut table =
        "| fault | what breaks | severity: default, range | needs |\n| --- | --- | --- | --- |\n".to_owned();
    for kind in FaultKind::ALL {
        let severity = severity_phrase(kind).unwrap_or_default();
        let part = kind.needs().map_or("", |part| part.name());
        let meaning = kind.meaning();
        table += &format!("| `{}` | {meaning} | {severity} | {part} |\n", kind.name());
    }
    // A cell that is empty has one blank, also next to another one.
    table.replace("  |", " |")
}
