//! `device info`: who is there, and how it stands.

use std::time::Duration;

use saggar_core::programme::ProgrammeImage;
use saggar_device::wire::DeviceStatus;
use serde::Serialize;

use super::phrases;
use crate::error::CliError;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{Client, DeviceUpdate, FetchTarget, Link, LinkError, printable_name};
use saggar_client::{ChannelReading, Channels};
use saggar_files::{hex, sanitized};
use saggar_schedule::schedule::ProgrammeSummary;

/// A device that talks at all has told of a tick by then.
const FIRST_TICK_WAIT: Duration = Duration::from_secs(3);

/// Who is there.
#[derive(Clone, Debug, Serialize)]
pub struct DeviceInfo {
    /// The device's name.
    pub device: String,
    /// Version of its image.
    pub image: String,
    /// Number of this boot; 0 if it cannot count.
    pub boot: u32,
    /// It has a key, so that a desk with the same may upload and stop.
    pub has_key: bool,
    /// Digest of its furnace's data.
    pub furnace: String,
    /// Digest of its programme.
    pub programme: Option<String>,
    /// Name of its programme.
    pub name: Option<String>,
    /// What its programme amounts to.
    pub summary: Option<ProgrammeSummary>,
    /// How it stands.
    pub standing: StatusReport,
}

/// How a furnace stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StatusReport {
    /// In a phrase.
    pub state: String,
    /// Time since the device came up (s).
    pub at_second: f64,
    /// First digits of its programme's digest.
    pub programme: Option<String>,
    /// Step at hand, from 1, while a firing runs.
    pub step: Option<u16>,
    /// What the control follows (°C).
    pub setpoint_celsius: Option<f64>,
    /// What the control channel reads (°C), as the device believes it.
    pub reading_celsius: Option<f64>,
    /// Why it reads nothing.
    pub control_fault: Option<&'static str>,
    /// What the limit channel reads (°C), unfiltered.
    pub limit_celsius: Option<f64>,
    /// That is the coldest that it can say, and the furnace may be colder.
    pub limit_at_most: bool,
    /// Why it reads nothing.
    pub limit_fault: Option<&'static str>,
    /// Absolute pressure (hPa).
    pub pressure_hectopascal: Option<f64>,
    /// Share of the mains cycles of the last tick that conducted (%).
    pub duty_percent: f64,
    /// The operator is wanted.
    pub asks: bool,
    /// The latched cause.
    pub tripped: Option<&'static str>,
    /// How the last firing ended.
    pub ended: Option<String>,
    /// Frames that arrived broken at the device.
    pub noise: u32,
    /// A programme in flash was found damaged.
    pub damaged: bool,
}

impl StatusReport {
    /// In the units of people.
    pub fn of(status: &DeviceStatus, channels: &Channels) -> Self {
        let milli = |value: Option<i32>| value.map(|value| f64::from(value) / 1e3);
        let of_cycles = status.cycles_per_tick.max(1);
        let (control, limit) = (channels.control(status), channels.limit(status));
        Self {
            state: phrases::state_phrase(status),
            at_second: status.at_ms as f64 / 1e3,
            programme: status.programme.map(|digits| hex(&digits)),
            step: status.step.map(|step| u16::from(step) + 1),
            setpoint_celsius: milli(status.setpoint_mc),
            reading_celsius: control.celsius(),
            control_fault: control.fault(),
            limit_celsius: limit.celsius(),
            limit_at_most: matches!(limit, ChannelReading::AtMost(_)),
            limit_fault: limit.fault(),
            pressure_hectopascal: status.pressure_pa.map(|pa| f64::from(pa) / 1e2),
            duty_percent: f64::from(status.cycles.min(of_cycles)) / f64::from(of_cycles) * 1e2,
            asks: status.operator_wanted,
            tripped: status.tripped.map(|cause| cause.name()),
            ended: status.ended.map(|ending| saggar_report::ending_phrase(ending).into_owned()),
            noise: status.bad_frames,
            damaged: status.damaged,
        }
    }
}

/// Asks a device who it is and how it stands.
///
/// # Errors
/// Nobody answers.
pub fn info(at: &PortConfig) -> Result<DeviceInfo, CliError> {
    let mut desk = Client::connect(at)?;
    let channels = Channels::fetch(&mut desk)?;
    let standing = current_status(&mut desk, channels)?;
    let image = match desk.fetch(FetchTarget::Programme) {
        // A programme that cannot be read back has no name here, and its digest all the same.
        Err(LinkError::InvalidReply(_)) => None,
        Err(failed) => return Err(failed.into()),
        Ok(bytes) => ProgrammeImage::from_bytes(&bytes).ok(),
    };
    let name = image.as_ref().map(|image| sanitized(image.name(), 80));
    let hello = &desk.hello;
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
        standing,
    })
}

/// How the furnace stands, with what both channels read: a device says that by its ticks only.
fn current_status<C: Link>(
    desk: &mut Client<C>,
    mut channels: Channels,
) -> Result<StatusReport, CliError> {
    let until = desk.link.now() + FIRST_TICK_WAIT;
    let mut status = None;
    desk.subscribe();
    while !status.as_ref().is_some_and(|status| channels.are_current_for(status)) {
        let batch = desk.next_updates()?;
        for news in batch.updates {
            match news {
                DeviceUpdate::Status(told) => status = Some(told),
                DeviceUpdate::Tick(tick) => channels.update(&tick),
                DeviceUpdate::Origin { .. } => {}
            }
        }
        if batch.received_at > until {
            break;
        }
    }
    desk.unsubscribe();
    let status = status.map_or_else(|| desk.status(), Ok)?;
    Ok(StatusReport::of(&status, &channels))
}
