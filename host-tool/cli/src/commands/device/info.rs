//! `device info`: what a device says of itself, and its status.

use std::time::Duration;

use saggar_core::programme::ProgrammeImage;
use serde::Serialize;

use super::StatusReport;
use crate::error::CliError;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, DeviceUpdate, FetchTarget, Link, LinkError, printable_name};
use saggar_client::{Channels, FiringTracker};
use saggar_files::{hex, sanitized};
use saggar_schedule::schedule::ProgrammeSummary;

/// Time to wait for the first tick: a subscribed device sends ten a second.
const FIRST_TICK_WAIT: Duration = Duration::from_secs(3);

/// What is known of a device.
#[derive(Clone, Debug, Serialize)]
pub struct DeviceInfo {
    /// The device's name.
    pub device: String,
    /// Version of its image.
    pub image: String,
    /// Boot number, by which its log names this start; 0 if it cannot count.
    pub boot: u32,
    /// It has a key: whoever has the same may upload and stop.
    pub has_key: bool,
    /// Digest of its furnace's data.
    pub furnace: String,
    /// Digest of its programme.
    pub programme: Option<String>,
    /// Name of its programme.
    pub name: Option<String>,
    /// Summary of its programme.
    pub summary: Option<ProgrammeSummary>,
    /// Whether its programme was confirmed at the furnace; unknown if its log no longer tells.
    pub confirmed: Option<bool>,
    /// Lock-outs since it started, after too many wrong seals.
    pub lock_outs: u32,
    /// Its status.
    pub standing: StatusReport,
}

/// Asks a device for its identity and status.
///
/// # Errors
/// No device answers.
pub fn info(at: &PortConfig) -> Result<DeviceInfo, CliError> {
    let mut client = Client::connect(at)?;
    let channels = Channels::fetch(&mut client)?;
    let mut firing = FiringTracker::default();
    let standing = current_status(&mut client, channels, &mut firing)?;
    let image = match client.fetch(FetchTarget::Programme) {
        // Its digest is shown all the same.
        Err(LinkError::InvalidReply(_)) => None,
        Err(error) => return Err(error.into()),
        Ok(bytes) => ProgrammeImage::from_bytes(&bytes).ok(),
    };
    let name = image.as_ref().map(|image| sanitized(image.name(), 80));
    let hello = &client.hello;
    let [major, minor, patch] = hello.version;
    Ok(DeviceInfo {
        device: printable_name(&hello.device),
        image: format!("{major}.{minor}.{patch}"),
        boot: hello.boot,
        has_key: hello.has_key,
        furnace: hex(&hello.furnace),
        programme: hello.programme.map(|digest| hex(&digest)),
        name,
        summary: image.as_ref().map(ProgrammeSummary::of),
        confirmed: firing.is_confirmed().filter(|_| hello.programme.is_some()),
        lock_outs: firing.lock_outs(),
        standing,
    })
}

/// The status, with the readings of both channels, which only ticks have.
fn current_status<L: Link>(
    client: &mut Client<L>,
    mut channels: Channels,
    firing: &mut FiringTracker,
) -> Result<StatusReport, CliError> {
    let until = client.link.now() + FIRST_TICK_WAIT;
    let mut status = None;
    client.subscribe();
    while !status.as_ref().is_some_and(|status| channels.are_current_for(status)) {
        let batch = client.next_updates()?;
        for update in batch.updates {
            match update {
                DeviceUpdate::Status(latest) => status = Some(latest),
                DeviceUpdate::Tick(tick) => channels.update(&tick),
                DeviceUpdate::Origin { .. } => {}
            }
        }
        if batch.received_at > until {
            break;
        }
    }
    client.unsubscribe();
    let status = status.map_or_else(|| client.status(), Ok)?;
    firing.update(client, &status)?;
    Ok(StatusReport::new(&status, &channels, firing, None))
}
