//! One thing wrong with a file, and where.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use crate::Source;

/// Bytes of a text, from and to.
pub type Span = Range<usize>;

/// Most findings that are kept of one file. Beyond, a reader has stopped reading too.
const FINDINGS_MAX: usize = 200;

/// One thing wrong with a file.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The file, as the user named it.
    pub file: String,
    /// The place in it; `None` when it is the file as a whole.
    pub place: Option<Place>,
    /// What is wrong, with the value that is.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

/// A place in a file.
#[derive(Clone, Debug)]
pub struct Place {
    /// The text.
    pub source: Arc<Source>,
    /// The bytes that the finding is about.
    pub span: Span,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl Finding {
    /// A finding about a file as a whole.
    pub fn on_file(file: &str, message: impl Into<String>, help: impl Into<String>) -> Self {
        let file = crate::shown(file, 200);
        Self { file, place: None, message: message.into(), help: Some(help.into()) }
    }
}

/// The findings on one source, gathered while it is read.
#[derive(Debug)]
pub struct Findings {
    source: Arc<Source>,
    list: RefCell<Vec<Finding>>,
}

impl Findings {
    /// None yet.
    pub fn new(source: &Arc<Source>) -> Self {
        Self { source: Arc::clone(source), list: RefCell::new(Vec::new()) }
    }

    /// Nothing is wrong so far.
    pub fn is_empty(&self) -> bool {
        self.list.borrow().is_empty()
    }

    /// Notes what is wrong at a place and how to put it right. The same thing is noted once.
    pub fn note(&self, span: &Span, message: impl Into<String>, help: impl Into<String>) {
        let message = message.into();
        let mut list = self.list.borrow_mut();
        let known = |finding: &Finding| {
            finding.message == message
                && finding.place.as_ref().is_some_and(|place| place.span == *span)
        };
        if list.len() >= FINDINGS_MAX || list.iter().any(known) {
            return;
        }
        let (line, column) = self.source.line_column(span.start);
        let source = Arc::clone(&self.source);
        list.push(Finding {
            file: self.source.name().to_owned(),
            place: Some(Place { source, span: span.clone(), line, column }),
            message,
            help: Some(help.into()).filter(|help| !help.is_empty()),
        });
    }

    /// The findings in the order of their places.
    pub fn into_sorted(self) -> Vec<Finding> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|finding| finding.place.as_ref().map_or(0, |place| place.span.start));
        list
    }
}
