//! The host's side of a connection to a device: [`link`] has the transactions, [`watch()`] follows a
//! firing, [`logfile`] stores a recorded firing, [`key`] reads and writes the keys that seal orders.

mod channels;
mod error;
mod firing;
pub mod key;
pub mod link;
pub mod logfile;

mod watch;

pub use channels::{ChannelReading, Channels};
pub use error::ClientError;
pub use firing::{FiringTracker, StepProgress, TimeLeft};
pub use watch::{RecordingStats, UserRequest, WatchEvent, WatchOptions, WatchOutcome, watch};
