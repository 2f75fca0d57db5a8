//! Where the keys of a document stand, apart from what they say.

use std::collections::{BTreeMap, BTreeSet};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::key::KeySpec;
use saggar_files::{ByteSpan, Diagnostics};

/// Where the known keys of a document stand. A key is named by its path: `limits.open_below_celsius`,
/// `stage[3].ramp.minutes`, with the first of a list as number 1. Data that was never written has
/// no places.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeyLocations {
    spans: BTreeMap<String, KeySpans>,
    sections_with_unknown_keys: BTreeSet<String>,
}

/// Where one key stands.
#[derive(Clone, Debug, PartialEq)]
struct KeySpans {
    key: ByteSpan,
    value: ByteSpan,
}

impl KeyLocations {
    pub(super) fn of(root: &DeTable<'_>, keys: &'static [KeySpec]) -> Self {
        let mut places = Self::default();
        places.insert("", 0..0, 0..0);
        places.add_section("", root, keys);
        places
    }

    /// The document gives this key.
    pub fn has(&self, path: &str) -> bool {
        self.spans.contains_key(path)
    }

    /// The section has keys that are not known, or is none.
    pub fn has_unknown_keys(&self, section: &str) -> bool {
        self.sections_with_unknown_keys.contains(section)
    }

    /// Where the value of a key stands; if it is left out, its section.
    pub fn value(&self, path: &str) -> Option<&ByteSpan> {
        self.spans.get(path).or_else(|| self.spans.get(parent(path))).map(|spot| &spot.value)
    }

    /// Where a key itself stands; if it is left out, its section.
    pub fn key(&self, path: &str) -> Option<&ByteSpan> {
        self.spans.get(path).map(|spot| &spot.key).or_else(|| self.value(parent(path)))
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

/// The section that a key stands in.
fn parent(path: &str) -> &str {
    path.rsplit_once('.').map_or("", |(section, _)| section)
}

/// Diagnostics on what a document says, each at the place of a key.
#[derive(Clone, Copy, Debug)]
pub struct KeyDiagnostics<'n> {
    /// The diagnostics.
    pub diagnostics: &'n Diagnostics,
    /// The places.
    pub locations: &'n KeyLocations,
}

impl KeyDiagnostics<'_> {
    /// Notes something wrong with the value of a key.
    pub fn at_value(&self, path: &str, message: impl Into<String>, help: impl Into<String>) {
        self.diagnostics.note_at(self.locations.value(path), message, help);
    }

    /// Notes something wrong with a key being there.
    pub fn at_key(&self, path: &str, message: impl Into<String>, help: impl Into<String>) {
        self.diagnostics.note_at(self.locations.key(path), message, help);
    }
}
