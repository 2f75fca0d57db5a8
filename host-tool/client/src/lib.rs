//! The desk at its end of a line to a device: [`link`] has the exchanges, [`watch()`] follows a
//! furnace, [`logfile`] is what is kept of a firing that was watched, [`key`] what makes an order
//! believed.

mod channels;
mod error;
pub mod key;
pub mod link;
pub mod logfile;

mod watch;

pub use channels::{ChannelReading, Channels};
pub use error::ClientError;
pub use watch::{RecordingStats, UserRequest, WatchEvent, WatchOptions, WatchOutcome, watch};
