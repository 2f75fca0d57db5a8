//! `device`: what can be done with a furnace's controller at the end of a line.

mod info;
#[cfg(feature = "messages")]
mod messages;
pub mod phrases;
mod settings;
mod upload;

use std::path::Path;

use crate::error::CliError;
use saggar_client::key;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, OnRetry};

pub use info::{DeviceInfo, StatusReport, info};
#[cfg(feature = "messages")]
pub use messages::messages;
pub use settings::settings;
pub(super) use settings::settings_of;
pub use upload::{UploadReport, upload};

/// Stands where a build decodes no messages.
///
/// # Errors
/// Always: how to build what does.
#[cfg(not(feature = "messages"))]
pub fn messages(
    _: &Path,
    _: Option<&PortConfig>,
    _: Option<&Path>,
    _: impl FnMut(Option<&str>, &str) -> Result<(), CliError>,
) -> Result<(), CliError> {
    use saggar_files::feature::{Feature, MissingFeature};
    Err(MissingFeature(Feature::Messages).into())
}

/// Ends the firing. `on_retry` is told when the line fails and the order is given again.
///
/// # Errors
/// The key cannot be used, nobody answers, or the device refuses; or nobody knows whether the
/// order arrived.
pub fn stop(at: &PortConfig, key: &Path, on_retry: OnRetry) -> Result<(), CliError> {
    let key = key::read(key)?;
    let mut desk = Client::connect(at)?;
    desk.on_retry = Some(on_retry);
    Ok(desk.stop(&key)?)
}
