//! Describes the keys of a file in words, for messages and reference pages.

use super::key::{KeySpec, Presence, ValueKind};

/// A longer list of allowed words has a page of its own, and is not repeated.
pub(super) const WORDS_SHOWN: usize = 12;

/// The sections of a file with their paths, each before its subsections; the file itself first.
pub fn sections(root: &'static [KeySpec]) -> Vec<(String, &'static [KeySpec])> {
    let mut all = vec![(String::new(), root)];
    let mut next = 0;
    while let Some((path, keys)) = all.get(next).cloned() {
        let inner = keys.iter().filter_map(|key| {
            let dot = if path.is_empty() { "" } else { "." };
            Some((format!("{path}{dot}{}", key.name), key.kind.keys()?))
        });
        let inner: Vec<_> = inner.collect();
        next += 1;
        all.splice(next..next, inner);
    }
    all
}

impl ValueKind {
    /// The keys of a section, or of each of a list.
    pub const fn keys(&self) -> Option<&'static [KeySpec]> {
        match self {
            Self::Section(keys) | Self::List { keys, .. } => Some(keys),
            Self::Number { .. }
            | Self::Integer { .. }
            | Self::Boolean
            | Self::Text { .. }
            | Self::Word(_) => None,
        }
    }
}

impl KeySpec {
    /// The allowed values in words: "0.1 to 5 mm".
    pub fn allowed_text(&self) -> String {
        match self.kind {
            ValueKind::Number { unit, from, to, at_most } => {
                let (from, to, unit) =
                    (with_digit_groups(from), with_digit_groups(to), unit_suffix(unit));
                let most = at_most.map_or_else(String::new, |key| format!(", at most `{key}`"));
                format!("{from} to {to}{unit}{most}")
            }
            ValueKind::Integer { unit, from, to } => {
                let (from, to) =
                    (with_digit_groups(f64::from(from)), with_digit_groups(f64::from(to)));
                format!("whole number, {from} to {to}{}", unit_suffix(unit))
            }
            ValueKind::Boolean => "`true` or `false`".to_owned(),
            ValueKind::Text { bytes_max } => format!("text, at most {bytes_max} bytes"),
            ValueKind::Word(words) => {
                let words = words();
                if words.len() > WORDS_SHOWN {
                    return format!("one of {} words", words.len());
                }
                let words = words.into_iter().map(|word| format!("`\"{word}\"`"));
                words.collect::<Vec<_>>().join(", ")
            }
            ValueKind::Section(_) => "section".to_owned(),
            ValueKind::List { most, .. } => format!("sections, 1 to {most}"),
        }
    }

    /// The default in words.
    pub fn default_text(&self) -> String {
        match self.presence {
            Presence::Required => "required".to_owned(),
            Presence::RequiredWith(section, else_) => {
                format!("{else_}; required with `{section}`")
            }
            Presence::OneOf => "one of these".to_owned(),
            Presence::Optional(words) => words.to_owned(),
            Presence::Default(number) => with_digit_groups(number),
            Presence::DefaultPercentOf(percent, key) => {
                format!("{} % of `{key}`", with_digit_groups(percent))
            }
            Presence::DefaultInteger(number) => number.to_string(),
            Presence::DefaultBoolean(flag) => format!("`{flag}`"),
        }
    }
}

/// The keys of a section as a table in Markdown.
pub fn markdown(keys: &[KeySpec]) -> String {
    let used = keys.iter().any(|key| !key.used_by.is_empty());
    let mut table = "| key | value | left out | meaning |".to_owned();
    table += if used {
        " for |\n| --- | --- | --- | --- | --- |\n"
    } else {
        "\n| --- | --- | --- | --- |\n"
    };
    for key in keys {
        let (allowed, left_out) = (key.allowed_text(), key.default_text());
        table += &format!("| `{}` | {allowed} | {left_out} | {} |", key.name, key.meaning);
        if used {
            table += &format!(" {} |", key.used_by);
        }
        table.push('\n');
    }
    table.replace("|  |", "| |")
}

fn unit_suffix(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}

/// A number for a page, with digit groups and a true minus sign: "10 000", "−50".
pub(crate) fn with_digit_groups(number: f64) -> String {
    let plain = format!("{number}").replace('-', "−");
    if number.abs() < 10_000.0 || number.fract().abs() > 0.0 {
        return plain;
    }
    let digits: Vec<char> = plain.chars().collect();
    let mut grouped = String::new();
    for (index, digit) in digits.iter().enumerate() {
        let left = digits.len() - index;
        if left.is_multiple_of(3) && index > 0 && grouped != "−" {
            grouped.push(' ');
        }
        grouped.push(*digit);
    }
    grouped
}
