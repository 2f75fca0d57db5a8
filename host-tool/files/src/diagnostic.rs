//! Errors in a file, with their locations and cures.

use std::cell::RefCell;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use crate::SourceText;

/// A range of bytes in a text.
pub type ByteSpan = Range<usize>;

/// Maximum number of diagnostics kept per file: a longer list is not read.
const DIAGNOSTICS_MAX: usize = 200;

/// An error in a file.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    /// The file, as the user named it.
    pub file: String,
    /// Where in the file; `None` if it concerns the file as a whole.
    pub location: Option<Location>,
    /// What is wrong, with the offending value.
    pub message: String,
    /// How to fix it.
    pub help: Option<String>,
}

/// A location in a file.
#[derive(Clone, Debug)]
pub struct Location {
    /// The text.
    pub source: Arc<SourceText>,
    /// The bytes concerned.
    pub span: ByteSpan,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl Diagnostic {
    /// A diagnostic that concerns a file as a whole.
    pub fn for_file(
        file: impl AsRef<Path>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        let file = crate::sanitized(&file.as_ref().display().to_string(), 200);
        Self { file, location: None, message: message.into(), help: Some(help.into()) }
    }
}

/// Collects the diagnostics of one text while it is read.
#[derive(Debug)]
pub struct Diagnostics {
    name: String,
    source: Option<Arc<SourceText>>,
    list: RefCell<Vec<DiagnosticEntry>>,
}

/// A diagnostic and its rank: at the same location, missing things are listed after wrong ones.
#[derive(Debug)]
struct DiagnosticEntry {
    diagnostic: Diagnostic,
    is_absence: bool,
}

impl Diagnostics {
    /// An empty list for this text.
    pub fn new(source: &Arc<SourceText>) -> Self {
        let name = source.name().to_owned();
        Self { name, source: Some(Arc::clone(source)), list: RefCell::default() }
    }

    /// An empty list for data of this name that was made by a program and has no text.
    pub fn new_without_text(name: &str) -> Self {
        Self { name: crate::sanitized(name, 200), source: None, list: RefCell::default() }
    }

    /// No error has been noted.
    pub fn is_empty(&self) -> bool {
        self.list.borrow().is_empty()
    }

    /// Notes an error at a location and how to fix it. Repeated notes are dropped.
    pub fn note(&self, span: &ByteSpan, message: impl Into<String>, help: impl Into<String>) {
        self.note_at(Some(span), message, help);
    }

    /// As [`Diagnostics::note`], for an error that may have no location.
    pub fn note_at(
        &self,
        span: Option<&ByteSpan>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(span, message.into(), help.into(), false);
    }

    /// As [`Diagnostics::note`], for something required that is missing.
    pub fn note_absence(&self, span: &ByteSpan, message: String, help: String) {
        self.push(Some(span), message, help, true);
    }

    fn push(&self, span: Option<&ByteSpan>, message: String, help: String, absence: bool) {
        let mut list = self.list.borrow_mut();
        let known = |DiagnosticEntry { diagnostic, .. }: &DiagnosticEntry| {
            let place = diagnostic.location.as_ref().map(|place| &place.span);
            diagnostic.message == message && place == span
        };
        if list.len() >= DIAGNOSTICS_MAX || list.iter().any(known) {
            return;
        }
        let place = span.zip(self.source.as_ref()).map(|(span, source)| {
            let (line, column) = source.line_column(span.start);
            Location { source: Arc::clone(source), span: span.clone(), line, column }
        });
        let help = Some(help).filter(|help| !help.is_empty());
        let diagnostic = Diagnostic { file: self.name.clone(), location: place, message, help };
        list.push(DiagnosticEntry { diagnostic, is_absence: absence });
    }

    /// The diagnostics in the order of their locations.
    pub fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|DiagnosticEntry { diagnostic, is_absence: absence }| {
            (diagnostic.location.as_ref().map_or(0, |place| place.span.start), *absence)
        });
        list.into_iter().map(|noted| noted.diagnostic).collect()
    }
}
