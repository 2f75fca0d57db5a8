//! Tells the errors that a change of keys caused from those that were there before.

use std::sync::Arc;

use saggar_files::{ByteSpan, Diagnostic, SourceText};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::key_path::KeyPath;
use super::plain_value::PlainValue;

/// The diagnostics that setting some keys caused: those that were not there before, compared by key and
/// message. If the change also repaired an error, then new diagnostics at other keys were only hidden
/// by that error before, and are left out.
pub fn new_diagnostics(
    before: (&Arc<SourceText>, Vec<Diagnostic>),
    after: (&Arc<SourceText>, Vec<Diagnostic>),
    changes: &[(KeyPath, PlainValue)],
) -> Vec<Diagnostic> {
    let (keys_before, keys_after) = (KeyIndex::of(before.0), KeyIndex::of(after.0));
    let mut known: Vec<_> = before.1.iter().map(|old| (keys_before.target(old), old)).collect();
    let mut new = Vec::new();
    for diagnostic in after.1 {
        let target = keys_after.target(&diagnostic);
        let same = |(other, old): &(DiagnosticTarget, &Diagnostic)| {
            *other == target && old.message == diagnostic.message
        };
        match known.iter().position(same) {
            Some(nth) => _ = known.swap_remove(nth),
            None => new.push((target, diagnostic)),
        }
    }
    let still_wrong = |target: &DiagnosticTarget| new.iter().any(|(other, _)| other == target);
    let repaired = known.iter().any(|(target, _)| !still_wrong(target));
    let changed: Vec<_> = changes.iter().map(|(path, _)| path.to_string()).collect();
    let concerns_change = |target: &DiagnosticTarget| match target {
        DiagnosticTarget::Key(path) => changed.contains(path) || !keys_before.has(path),
        DiagnosticTarget::File => false,
        DiagnosticTarget::OtherFile(file, _) => {
            changes.iter().any(|(_, written)| is_path_of(written, file))
        }
    };
    new.retain(|(target, _)| !repaired || concerns_change(target));
    new.into_iter().map(|(_, diagnostic)| diagnostic).collect()
}

/// Whether a value is text that names the file, perhaps relative to another folder.
fn is_path_of(value: &PlainValue, file: &str) -> bool {
    matches!(value, PlainValue::Text(path) if file.ends_with(path.as_str()))
}

/// What a diagnostic refers to.
#[derive(PartialEq)]
enum DiagnosticTarget {
    /// A key of the file, by its path.
    Key(String),
    /// The file as a whole.
    File,
    /// Another file, and where in it.
    OtherFile(String, Option<ByteSpan>),
}

/// All keys of a text, known or not, with their paths and locations.
struct KeyIndex {
    source: Arc<SourceText>,
    spans: Vec<(String, ByteSpan)>,
}

impl KeyIndex {
    fn of(source: &Arc<SourceText>) -> Self {
        let (root, _) = DeTable::parse_recoverable(source.text());
        let mut spans = Vec::new();
        collect_keys("", root.get_ref(), &mut spans);
        Self { source: Arc::clone(source), spans }
    }

    fn has(&self, path: &str) -> bool {
        self.spans.iter().any(|(known, _)| known == path)
    }

    fn target(&self, diagnostic: &Diagnostic) -> DiagnosticTarget {
        let span = diagnostic.location.as_ref().map(|location| &location.span);
        if diagnostic.file != self.source.name() {
            return DiagnosticTarget::OtherFile(diagnostic.file.clone(), span.cloned());
        }
        let Some(span) = span.filter(|span| !span.is_empty()) else {
            return DiagnosticTarget::File;
        };
        let around = |(_, key_span): &&(String, ByteSpan)| {
            key_span.start <= span.start && span.end <= key_span.end
        };
        let innermost =
            self.spans.iter().filter(around).min_by_key(|(_, key_span)| key_span.len());
        innermost
            .map_or(DiagnosticTarget::File, |(path, _)| DiagnosticTarget::Key(path.clone()))
    }
}

fn collect_keys(path: &str, entries: &DeTable<'_>, spans: &mut Vec<(String, ByteSpan)>) {
    for (word, value) in entries {
        let dot = if path.is_empty() { "" } else { "." };
        let path = format!("{path}{dot}{}", word.get_ref());
        spans.push((path.clone(), word.span()));
        collect_value(&path, value, spans);
    }
}

fn collect_value(
    path: &str,
    value: &Spanned<DeValue<'_>>,
    spans: &mut Vec<(String, ByteSpan)>,
) {
    spans.push((path.to_owned(), value.span()));
    if let Some(entries) = value.get_ref().as_table() {
        collect_keys(path, entries, spans);
    }
    for (nth, entry) in value.get_ref().as_array().into_iter().flatten().enumerate() {
        collect_value(&format!("{path}[{}]", nth + 1), entry, spans);
    }
}
