//! Locations of the keys of a document.

use std::collections::{BTreeMap, BTreeSet};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::key::KeySpec;
use saggar_files::{ByteSpan, Diagnostics};

/// Locations of the known keys of a document. A key is named by its path: `limits.open_below_celsius`,
/// `stage[3].ramp.minutes`, with lists counted from 1. Data made by a program have no locations.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeyLocations {
    spans: BTreeMap<String, KeySpans>,
    sections_with_unknown_keys: BTreeSet<String>,
}

/// Locations of a key and its value.
#[derive(Clone, Debug, PartialEq)]
struct KeySpans {
    key: ByteSpan,
    value: ByteSpan,
}

impl KeyLocations {
    pub(super) fn of(root: &DeTable<'_>, keys: &'static [KeySpec]) -> Self {
        let mut locations = Self::default();
        locations.insert("", 0..0, 0..0);
        locations.add_section("", root, keys);
        locations
    }

    /// The document has this key.
    pub fn has(&self, path: &str) -> bool {
        self.spans.contains_key(path)
    }

    /// The section has unknown keys, or is not a section.
    pub fn has_unknown_keys(&self, section: &str) -> bool {
        self.sections_with_unknown_keys.contains(section)
    }

    /// Location of the value of a key; if it is left out, of its section.
    pub fn value(&self, path: &str) -> Option<&ByteSpan> {
        self.spans.get(path).or_else(|| self.spans.get(parent(path))).map(|entry| &entry.value)
    }

    /// Location of a key itself; if it is left out, of its section.
    pub fn key(&self, path: &str) -> Option<&ByteSpan> {
        self.spans.get(path).map(|entry| &entry.key).or_else(|| self.value(parent(path)))
    }

    fn add_section(&mut self, path: &str, entries: &DeTable<'_>, keys: &'static [KeySpec]) {
        for (word, value) in entries {
            let Some(key) = keys.iter().find(|key| key.name == word.get_ref().as_ref()) else {
                self.sections_with_unknown_keys.insert(path.to_owned());
                continue;
            };
            let dot = if path.is_empty() { "" } else { "." };
            let path = format!("{path}{dot}{}", key.name);
            self.insert(&path, word.span(), value.span());
            let Some(keys) = key.kind.keys() else { continue };
            if let Some(array) = value.get_ref().as_array() {
                for (index, entry) in array.iter().enumerate() {
                    let path = format!("{path}[{}]", index + 1);
                    self.insert(&path, entry.span(), entry.span());
                    self.add_value(&path, entry, keys);
                }
            } else {
                self.add_value(&path, value, keys);
            }
        }
    }

    fn add_value(
        &mut self,
        path: &str,
        value: &Spanned<DeValue<'_>>,
        keys: &'static [KeySpec],
    ) {
        match value.get_ref().as_table() {
            Some(entries) => self.add_section(path, entries, keys),
            None => _ = self.sections_with_unknown_keys.insert(path.to_owned()),
        }
    }

    fn insert(&mut self, path: &str, key: ByteSpan, value: ByteSpan) {
        self.spans.insert(path.to_owned(), KeySpans { key, value });
    }
}

/// The path of the section that a key belongs to.
fn parent(path: &str) -> &str {
    path.rsplit_once('.').map_or("", |(section, _)| section)
}

/// Notes diagnostics at the locations of keys.
#[derive(Clone, Copy, Debug)]
pub struct KeyDiagnostics<'n> {
    /// The diagnostics.
    pub diagnostics: &'n Diagnostics,
    /// The locations.
    pub locations: &'n KeyLocations,
}

impl KeyDiagnostics<'_> {
    /// Notes something wrong with the value of a key.
    pub fn at_value(&self, path: &str, message: impl Into<String>, help: impl Into<String>) {
        self.diagnostics.note_at(self.locations.value(path), message, help);
    }

    /// Notes that a key should not be there.
    pub fn at_key(&self, path: &str, message: impl Into<String>, help: impl Into<String>) {
        self.diagnostics.note_at(self.locations.key(path), message, help);
    }
}
