//! Why a file was not read, or not written.

use std::path::{Path, PathBuf};

use crate::Finding;
use crate::Unwritten;
use crate::text::shown;

/// Why something could not be done with files.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Files that were read have something wrong with them.
    #[error("{}", findings_line(.0))]
    Input(Vec<Finding>),
    /// The file to write is there already.
    #[error("{} is there already; --force replaces it", shown_path(.0))]
    Exists(PathBuf),
    /// The file cannot be written.
    #[error(transparent)]
    NotWritten(Unwritten),
}

impl Error {
    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[Finding] {
        match self {
            Self::Input(findings) => findings,
            Self::Exists(_) | Self::NotWritten(_) => &[],
        }
    }
}

impl From<Unwritten> for Error {
    fn from(unwritten: Unwritten) -> Self {
        if unwritten.exists {
            Self::Exists(unwritten.path)
        } else {
            Self::NotWritten(unwritten)
        }
    }
}

impl From<Finding> for Error {
    fn from(finding: Finding) -> Self {
        Self::Input(vec![finding])
    }
}

/// A path in a message: on one line, and not too long.
pub fn shown_path(path: &Path) -> String {
    shown(&path.display().to_string(), 200)
}

/// "3 findings in 2 files".
pub fn findings_line(findings: &[Finding]) -> String {
    let mut files: Vec<&str> = findings.iter().map(|finding| finding.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    let plural = |count: usize, word: &str| match count {
        1 => format!("1 {word}"),
        count => format!("{count} {word}s"),
    };
    format!("{} in {}", plural(findings.len(), "finding"), plural(files.len(), "file"))
}
