//! One thing wrong with a file, and where.

use std::cell::RefCell;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use crate::SourceText;

/// Bytes of a text, from and to.
pub type ByteSpan = Range<usize>;

/// Most findings that are kept of one file. Beyond, a reader has stopped reading too.
const DIAGNOSTICS_MAX: usize = 200;

/// One thing wrong with a file.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    /// The file, as the user named it.
    pub file: String,
    /// The place in it; `None` when it is the file as a whole.
    pub location: Option<Location>,
    /// What is wrong, with the value that is.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

/// A place in a file.
#[derive(Clone, Debug)]
pub struct Location {
    /// The text.
    pub source: Arc<SourceText>,
    /// The bytes that the finding is about.
    pub span: ByteSpan,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl Diagnostic {
    /// A finding about a file as a whole.
    pub fn for_file(
        file: impl AsRef<Path>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        let file = crate::sanitized(&file.as_ref().display().to_string(), 200);
        Self { file, location: None, message: message.into(), help: Some(help.into()) }
    }
}

/// The findings on one text, gathered while it is read.
#[derive(Debug)]
pub struct Diagnostics {
    name: String,
    source: Option<Arc<SourceText>>,
    list: RefCell<Vec<DiagnosticEntry>>,
}

/// A finding; that something is absent is said behind what is wrong with what is there.
#[derive(Debug)]
struct DiagnosticEntry {
    finding: Diagnostic,
    is_absence: bool,
}

impl Diagnostics {
    /// None yet.
    pub fn new(source: &Arc<SourceText>) -> Self {
        let name = source.name().to_owned();
        Self { name, source: Some(Arc::clone(source)), list: RefCell::default() }
    }

    /// None yet on something of this name that was never written.
    pub fn new_without_text(name: &str) -> Self {
        Self { name: crate::sanitized(name, 200), source: None, list: RefCell::default() }
    }

    /// Nothing is wrong so far.
    pub fn is_empty(&self) -> bool {
        self.list.borrow().is_empty()
    }

    /// Notes what is wrong at a place and how to put it right. The same thing is noted once.
    pub fn note(&self, span: &ByteSpan, message: impl Into<String>, help: impl Into<String>) {
        self.note_at(Some(span), message, help);
    }

    /// As [`Findings::note`], of something that may have no place in a text.
    pub fn note_at(
        &self,
        span: Option<&ByteSpan>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(span, message.into(), help.into(), false);
    }

    /// As [`Findings::note`], of something that should be there and is not.
    pub fn note_absence(&self, span: &ByteSpan, message: String, help: String) {
        self.push(Some(span), message, help, true);
    }

    fn push(&self, span: Option<&ByteSpan>, message: String, help: String, absence: bool) {
        let mut list = self.list.borrow_mut();
        let known = |DiagnosticEntry { finding, .. }: &DiagnosticEntry| {
            let place = finding.location.as_ref().map(|place| &place.span);
            finding.message == message && place == span
        };
        if list.len() >= DIAGNOSTICS_MAX || list.iter().any(known) {
            return;
        }
        let place = span.zip(self.source.as_ref()).map(|(span, source)| {
            let (line, column) = source.line_column(span.start);
            Location { source: Arc::clone(source), span: span.clone(), line, column }
        });
        let help = Some(help).filter(|help| !help.is_empty());
        let finding = Diagnostic { file: self.name.clone(), location: place, message, help };
        list.push(DiagnosticEntry { finding, is_absence: absence });
    }

    /// The findings in the order of their places.
    pub fn into_sorted(self) -> Vec<Diagnostic> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|DiagnosticEntry { finding, is_absence: absence }| {
            (finding.location.as_ref().map_or(0, |place| place.span.start), *absence)
        });
        list.into_iter().map(|noted| noted.finding).collect()
    }
}
