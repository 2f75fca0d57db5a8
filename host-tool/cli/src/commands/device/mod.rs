//! `device`: what can be done with a furnace's controller at the end of a line.

mod info;
mod keys;
#[cfg(feature = "messages")]
mod messages;
mod upload;
pub mod words;

use saggar_device::wire::LogLine;

use crate::Error;
use crate::args::device::At;
#[cfg(not(feature = "messages"))]
use crate::args::device::Messages;
use saggar_client::key;
use saggar_client::link::{Desk, OnRetry};
#[cfg(not(feature = "messages"))]
use saggar_files::feature::{Feature, MissingFeature};

pub use info::{Info, Standing, info};
pub use keys::{new_key, settings};
#[cfg(feature = "messages")]
pub use messages::messages;
pub use upload::{Sending, Uploaded, upload};

/// Greets the device at a port.
///
/// # Errors
/// The port cannot be had, or nobody answers.
pub fn desk(at: &At) -> Result<Desk, Error> {
    Ok(Desk::at(&at.port, at.baud)?)
}

/// The lines of a device's log from this number on.
///
/// # Errors
/// Nobody answers.
pub fn log(at: &At, from: u32) -> Result<Vec<LogLine>, Error> {
    Ok(desk(at)?.log(from)?)
}

/// Stands where a build decodes no messages.
///
/// # Errors
/// Always: how to build what does.
#[cfg(not(feature = "messages"))]
pub fn messages(
    _: &Messages,
    _: impl FnMut(Option<&str>, &str) -> Result<(), Error>,
) -> Result<(), Error> {
    Err(MissingFeature(Feature::Messages).into())
}

/// Ends the firing. `on_retry` is told when the line fails and the order is given again.
///
/// # Errors
/// The key cannot be used, nobody answers, or the device refuses; or nobody knows whether the
/// order arrived.
pub fn stop(at: &At, key: &std::path::Path, on_retry: OnRetry) -> Result<(), Error> {
    let key = key::read(key)?;
    let mut desk = desk(at)?;
    desk.on_retry = Some(on_retry);
    Ok(desk.stop(&key)?)
}
