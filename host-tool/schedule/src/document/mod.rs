//! TOML files that are read by a table of their keys, so that everything wrong with one is said
//! at once, each thing at its place, with what is allowed instead.
//!
//! [`Document`] is a text as a tree that
//! knows where everything stands. A [`Section`] is a list of [`Key`]s and a struct of what they
//! say; reading one notes a diagnostic for each key that is missing, unknown, of the wrong type
//! or out of range. [`Places`] keeps where they stood.

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
pub use reference::{markdown, sections};
pub use section_reader::SectionReader;

/// A text whose syntax is right, with the place of everything in it.
pub struct Document<'s> {
    root: Spanned<DeTable<'s>>,
    diagnostics: &'s Diagnostics,
}

impl<'s> Document<'s> {
    /// Parses a source. On errors of syntax, notes all of them and returns `None`: what would
    /// be read from such a text is guesswork. `lists` are the names of sections that there may
    /// be many of.
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

    /// The file gives nothing.
    pub fn is_empty(&self) -> bool {
        self.root.get_ref().is_empty()
    }

    /// Where a key stands at the top of the file.
    pub fn key(&self, key: &str) -> Option<ByteSpan> {
        self.root.get_ref().get_key_value(key).map(|(key, _)| key.span())
    }

    /// What the document says, with a diagnostic for everything in it that cannot be, and where it
    /// says it.
    pub fn read<S: Section>(&self) -> (S, KeyLocations) {
        let root = self.root.get_ref();
        let section =
            fields::read_and_finish(SectionReader::root(S::KEYS, root, self.diagnostics));
        (section, KeyLocations::of(root, S::KEYS))
    }
}
