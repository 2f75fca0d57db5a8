//! Why something could not be done with a device or with what is kept of it.

use std::io;
use std::path::PathBuf;

use saggar_files::display_path;

use crate::link::LinkError;

/// Why something could not be done.
#[derive(Debug, thiserror::Error)]
pub enum ClientError {
    /// A file could not be read or written.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// A device does not answer, or does not do it.
    #[error("{0}")]
    Device(#[from] LinkError),
    /// A device told more than any true one can have to tell.
    #[error(
        "the device has told more than the longest firing of its furnace and the time at rest come \
         to ({limit_mb} MB): record on into another file"
    )]
    RecordingTooLarge {
        /// What they come to.
        limit_mb: u64,
    },
    /// A recording ended before its time.
    #[error("{cause}; what is in {} is whole: {ticks} ticks{}", display_path(path), up_to(*last_tick))]
    RecordingInterrupted {
        /// Why.
        cause: Box<Self>,
        /// The log.
        path: PathBuf,
        /// Ticks that are in it.
        ticks: u64,
        /// Number of the last one that was heard.
        last_tick: Option<u32>,
    },
    /// What was seen cannot be shown.
    #[error("the output cannot be written: {0}")]
    Output(#[from] io::Error),
}

fn up_to(last: Option<u32>) -> String {
    last.map_or_else(String::new, |last| format!(", up to tick {last}"))
}
