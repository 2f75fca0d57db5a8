//! The errors of the client.

use std::io;
use std::path::PathBuf;

use saggar_files::display_path;

use crate::link::LinkError;

/// Why something failed with a device, a recording or a key.
#[derive(Debug, thiserror::Error)]
pub enum ClientError {
    /// A file could not be read or written.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// The device does not answer, refuses, or sends something invalid.
    #[error("{0}")]
    Device(#[from] LinkError),
    /// A device sent more than a correct one can.
    #[error(
        "the recording has reached its limit of {limit_mb} MB, more than the longest firing of this \
         furnace takes: go on with another file"
    )]
    RecordingTooLarge {
        /// The limit (MB).
        limit_mb: u64,
    },
    /// A recording ended early.
    #[error("{cause}; {} is intact: {ticks} ticks{}", display_path(path), up_to(*last_tick))]
    RecordingInterrupted {
        /// Why.
        cause: Box<Self>,
        /// The recording.
        path: PathBuf,
        /// Ticks in it.
        ticks: u64,
        /// Number of the last tick that arrived.
        last_tick: Option<u32>,
    },
    /// The output cannot be written.
    #[error("the output cannot be written: {0}")]
    Output(#[from] io::Error),
}

fn up_to(last: Option<u32>) -> String {
    last.map_or_else(String::new, |last| format!(", up to tick {last}"))
}
