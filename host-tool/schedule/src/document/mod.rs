//! Reading a TOML file so that everything wrong with it is said at once, each thing at its
//! place, with what is allowed instead.
//!
//! [`Source`] is the text, read with a cap on its size. [`Document`] is the text as a tree that
//! knows where everything stands. [`Table`] reads keys out of it and notes a [`Finding`] for
//! each that is missing, unknown, of the wrong type or out of range.

mod syntax;
mod table;
mod value;

use std::sync::Arc;

use saggar_files::{Findings, Source};
use toml::Spanned;
use toml::de::DeTable;

pub use table::Table;

/// A text whose syntax is right, with the place of everything in it.
pub struct Document<'s> {
    root: Spanned<DeTable<'s>>,
    findings: &'s Findings,
}

impl<'s> Document<'s> {
    /// Parses a source. On errors of syntax, notes all of them and returns `None`: what would
    /// be read from such a text is guesswork.
    pub fn parse(source: &'s Arc<Source>, findings: &'s Findings) -> Option<Self> {
        let (root, errors) = DeTable::parse_recoverable(source.text());
        if errors.is_empty() {
            return Some(Self { root, findings });
        }
        syntax::explain(source, &errors, findings);
        None
    }

    /// The top of the document.
    pub fn root(&self) -> Table<'_> {
        Table::new("", self.root.get_ref(), 0..0, self.findings)
    }
}
