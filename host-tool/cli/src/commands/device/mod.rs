//! `device`: the subcommands for a furnace's controller.

mod info;
mod log;
#[cfg(feature = "messages")]
mod messages;
pub mod phrases;
mod settings;
mod status;
mod upload;

use std::path::Path;

use crate::error::CliError;
use saggar_client::key;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, OnRetry};

pub use info::{DeviceInfo, info};
pub use log::{LogLine, log};
#[cfg(feature = "messages")]
pub use messages::messages;
pub use settings::settings;
pub(super) use settings::settings_of;
pub use status::{StatusReport, StepReport, interrupted_phrase};
pub use upload::{UploadReport, upload};

/// A build without the feature decodes no messages.
///
/// # Errors
/// Always: how to build with the feature.
#[cfg(not(feature = "messages"))]
pub fn messages(
    _: &Path,
    _: Option<&PortConfig>,
    _: Option<&Path>,
    _: impl FnMut(Option<&str>, &str) -> Result<(), CliError>,
) -> Result<(), CliError> {
    use saggar_files::feature::{Feature, MissingFeatureError};
    Err(MissingFeatureError(Feature::Messages).into())
}

/// Stops the firing. `on_retry` is called before each retry over a new connection.
///
/// # Errors
/// The key cannot be used, no device answers, or it refuses; or the outcome is unknown.
pub fn stop(at: &PortConfig, key: &Path, on_retry: OnRetry) -> Result<(), CliError> {
    let key = key::read(key)?;
    let mut client = Client::connect(at)?;
    client.on_retry = Some(on_retry);
    Ok(client.stop(&key)?)
}
