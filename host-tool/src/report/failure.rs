//! Why a report could not be made.

use std::io;
use std::path::PathBuf;

/// Why a report could not be made, with what would help.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// The folder cannot be made.
    #[error(
        "cannot make the folder {}: {source}. Name a folder that you may write to",
        path.display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A file cannot be written.
    #[error(
        "cannot write {}: {source}. Check that the folder may be written to and that the disk \
         has room, or name another folder",
        path.display()
    )]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The trace cannot be written to what was given.
    #[error("cannot write the trace: {0}")]
    Table(#[from] csv::Error),
    /// The last of the trace cannot be written to what was given.
    #[error("cannot write the trace: {0}")]
    Flush(io::Error),
    /// A value has no form in JSON.
    #[error("cannot put the report into JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// The drawing is no drawing.
    #[error("cannot read the chart that was drawn: {0}")]
    Drawing(#[from] resvg::usvg::Error),
    /// No pixels could be had.
    #[error("cannot turn the chart into pixels: {0}")]
    Pixels(String),
}
