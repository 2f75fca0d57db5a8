//! Why a report could not be written.

use std::path::PathBuf;

use saggar_files::atomic_file::WriteError;
use saggar_files::display_path;
use saggar_files::feature::MissingFeatureError;

/// Why a report could not be written, and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The folder cannot be created.
    #[error("the folder {} cannot be created: {why}", display_path(path))]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// A file cannot be written.
    #[error(transparent)]
    File(#[from] WriteError),
    /// The trace cannot be written.
    #[error("cannot write the trace: {0}")]
    Table(#[from] csv::Error),
    /// A value cannot be serialised.
    #[error("cannot write the report as JSON: {0}")]
    Json(#[from] serde_json::Error),
    /// The chart cannot be rendered.
    #[error("cannot draw the chart as PNG: {0}")]
    Pixels(String),
    /// This build cannot draw PNGs.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeatureError),
}
