//! Why a file was not read or not written.

use std::path::{Path, PathBuf};

use crate::Diagnostic;
use crate::WriteError;
use crate::text::sanitized;

/// Why an operation on files failed.
#[derive(Debug, thiserror::Error)]
pub enum FilesError {
    /// Files were read and have errors in them.
    #[error("{}", diagnostics_summary(.0))]
    Invalid(Vec<Diagnostic>),
    /// The file to write exists already.
    #[error("{} exists already; --force replaces it", display_path(.0))]
    AlreadyExists(PathBuf),
    /// A file could not be written.
    #[error(transparent)]
    Write(WriteError),
}

impl FilesError {
    /// The errors found in files; empty for other causes.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        match self {
            Self::Invalid(diagnostics) => diagnostics,
            Self::AlreadyExists(_) | Self::Write(_) => &[],
        }
    }
}

impl From<WriteError> for FilesError {
    fn from(unwritten: WriteError) -> Self {
        if unwritten.exists {
            Self::AlreadyExists(unwritten.path)
        } else {
            Self::Write(unwritten)
        }
    }
}

impl From<Diagnostic> for FilesError {
    fn from(diagnostic: Diagnostic) -> Self {
        Self::Invalid(vec![diagnostic])
    }
}

/// A path for a message: on one line, cut in the middle if it is long.
pub fn display_path(path: &Path) -> String {
    sanitized(&path.display().to_string(), 200)
}

/// "3 errors in 2 files".
pub fn diagnostics_summary(diagnostics: &[Diagnostic]) -> String {
    let mut files: Vec<&str> =
        diagnostics.iter().map(|diagnostic| diagnostic.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    let plural = |count: usize, word: &str| match count {
        1 => format!("1 {word}"),
        count => format!("{count} {word}s"),
    };
    format!("{} in {}", plural(diagnostics.len(), "error"), plural(files.len(), "file"))
}
