//! Reads TOML files by a table of their keys and reports all errors at once, each with its location and
//! what is allowed instead.
//!
//! A [`Document`] is a parsed text with locations. A [`Section`] is a list of [`KeySpec`]s and a struct
//! of their values; reading one notes a diagnostic for each key that is missing, unknown, of the
//! wrong type or out of range. [`KeyLocations`] keeps the locations of the keys.

mod difference;
mod edit;
mod fields;
mod json_schema;
mod key;
mod key_locations;
mod key_path;
mod plain_value;
mod print;
mod reference;
mod retired;
mod section_reader;
mod syntax;
mod value;

use std::sync::Arc;

use saggar_files::{ByteSpan, Diagnostics, SourceText};
use toml::Spanned;
use toml::de::DeTable;

pub use difference::new_diagnostics;
pub use edit::{parse_typed, set};
pub use fields::{KeyValue, Section, WordChoice, list, section_of, word};
pub(crate) use fields::{read_section, section};
pub use json_schema::json_schema;
pub use key::{KeySpec, Presence, ValueKind, integer, number, text};
pub use key_locations::{KeyDiagnostics, KeyLocations};
pub use key_path::{KeyPath, KeyPathError};
pub use plain_value::PlainValue;
pub use print::to_toml;
pub(crate) use reference::with_digit_groups;
pub use reference::{markdown, sections};
pub use section_reader::SectionReader;

/// A text with correct syntax, parsed with locations.
pub struct Document<'s> {
    root: Spanned<DeTable<'s>>,
    diagnostics: &'s Diagnostics,
}

impl<'s> Document<'s> {
    /// Parses a text. Syntax errors are noted and the result is `None`, since reading such a text would
    /// be guesswork. `lists` are the names of sections that may occur many times.
    pub fn parse(
        source: &'s Arc<SourceText>,
        diagnostics: &'s Diagnostics,
        lists: &[&str],
    ) -> Option<Self> {
        let (root, errors) = DeTable::parse_recoverable(source.text());
        if errors.is_empty() {
            return Some(Self { root, diagnostics });
        }
        syntax::note_syntax_errors(source, &errors, diagnostics, lists);
        None
    }

    /// The file has no keys.
    pub fn is_empty(&self) -> bool {
        self.root.get_ref().is_empty()
    }

    /// Location of a key at the top of the file.
    pub fn key(&self, key: &str) -> Option<ByteSpan> {
        self.root.get_ref().get_key_value(key).map(|(key, _)| key.span())
    }

    /// Reads the document as a section, with the locations of its keys. Errors are noted.
    pub fn read<S: Section>(&self) -> (S, KeyLocations) {
        let root = self.root.get_ref();
        let section =
            fields::read_and_finish(SectionReader::root(S::KEYS, root, self.diagnostics));
        (section, KeyLocations::of(root, S::KEYS))
    }
}
