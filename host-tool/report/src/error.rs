//! Why a report could not be made.

use std::path::PathBuf;

use saggar_files::atomic_file::WriteError;
use saggar_files::display_path;
use saggar_files::feature::MissingFeatureError;

/// Why a report could not be made, with what would help.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The folder cannot be made.
    #[error("the folder {} cannot be made: {why}", display_path(path))]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// A file cannot be written.
    #[error(transparent)]
    File(#[from] WriteError),
    /// The trace cannot be written to what was given.
    #[error("cannot write the trace: {0}")]
    Table(#[from] csv::Error),
    /// A value has no form in JSON.
    #[error("cannot put the report into JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// No pixels could be had.
    #[error("cannot turn the chart into pixels: {0}")]
    Pixels(String),
    /// This build draws no pixels.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeatureError),
}
