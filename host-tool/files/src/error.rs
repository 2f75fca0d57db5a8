//! Why a file was not read, or not written.

use std::path::{Path, PathBuf};

use crate::Diagnostic;
use crate::WriteError;
use crate::text::sanitized;

/// Why something could not be done with files.
#[derive(Debug, thiserror::Error)]
pub enum FilesError {
    /// Files that were read have something wrong with them.
    #[error("{}", diagnostics_summary(.0))]
    Invalid(Vec<Diagnostic>),
    /// The file to write is there already.
    #[error("{} is there already; --force replaces it", display_path(.0))]
    AlreadyExists(PathBuf),
    /// The file cannot be written.
    #[error(transparent)]
    Write(WriteError),
}

impl FilesError {
    /// The findings on files, if that is what it is.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        match self {
            Self::Invalid(findings) => findings,
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
    fn from(finding: Diagnostic) -> Self {
        Self::Invalid(vec![finding])
    }
}

/// A path in a message: on one line, and not too long.
pub fn display_path(path: &Path) -> String {
    sanitized(&path.display().to_string(), 200)
}

/// "3 findings in 2 files".
pub fn diagnostics_summary(findings: &[Diagnostic]) -> String {
    let mut files: Vec<&str> = findings.iter().map(|finding| finding.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    let plural = |count: usize, word: &str| match count {
        1 => format!("1 {word}"),
        count => format!("{count} {word}s"),
    };
    format!("{} in {}", plural(findings.len(), "finding"), plural(files.len(), "file"))
}
