//! What each of a furnace's two thermocouples reads, and where its lift or door stands.

use saggar_core::furnace::{Furnace, SensorData};
use saggar_core::io::{ClosureContacts, ThermocoupleSample};
use saggar_core::sensors::{ChannelReader, Reading, SensorFault};
use saggar_device::wire::{DeviceStatus, Tick};

use crate::link::{Client, FetchTarget, Link, LinkError};

/// Greatest age of a tick that is shown with a status (ms).
const TICK_AGE_MAX_MS: u64 = 3_000;

/// The reading of a channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ChannelReading {
    /// A temperature (°C).
    Celsius(f64),
    /// At most this temperature (°C): a cold type B cannot say more.
    AtMost(f64),
    /// No reading, and why.
    Fault(&'static str),
    /// Not known.
    Unknown,
}

impl ChannelReading {
    /// The temperature (°C), if there is one.
    pub const fn celsius(self) -> Option<f64> {
        match self {
            Self::Celsius(celsius) | Self::AtMost(celsius) => Some(celsius),
            Self::Fault(_) | Self::Unknown => None,
        }
    }

    /// Why there is no reading, if that is known.
    pub const fn fault(self) -> Option<&'static str> {
        match self {
            Self::Fault(fault) => Some(fault),
            Self::Celsius(_) | Self::AtMost(_) | Self::Unknown => None,
        }
    }
}

/// Both channels of a furnace, as of the last tick.
#[derive(Clone, Debug, Default)]
pub struct Channels {
    sensors: Option<(SensorData, SensorData)>,
    tick: Option<Tick>,
}

impl Channels {
    /// The channels of a device's furnace. Without readable furnace data there are no types of
    /// thermocouples.
    ///
    /// # Errors
    /// No device answers.
    pub fn fetch<L: Link>(client: &mut Client<L>) -> Result<Self, LinkError> {
        match client.fetch(FetchTarget::Furnace) {
            Ok(furnace) => Ok(Self::from_furnace_data(&furnace)),
            Err(LinkError::Refused(_) | LinkError::InvalidReply(_)) => Ok(Self::default()),
            Err(error) => Err(error),
        }
    }

    /// The channels of a furnace with these data. If they cannot be read, only the device's own
    /// reading is known.
    pub fn from_furnace_data(furnace: &[u8]) -> Self {
        let furnace = postcard::from_bytes::<Furnace>(furnace).ok();
        let sensors = furnace.map(|furnace| (furnace.control_sensor, furnace.limit_sensor));
        Self { sensors, tick: None }
    }

    /// The contacts of lift or door; `None` without a tick as recent as this status.
    pub fn closure(&self, status: &DeviceStatus) -> Option<ClosureContacts> {
        Some(self.tick_of(status)?.inputs().closure)
    }

    /// Takes a tick.
    pub const fn update(&mut self, tick: &Tick) {
        self.tick = Some(*tick);
    }

    /// Whether the last tick is as recent as this status.
    pub fn are_current_for(&self, status: &DeviceStatus) -> bool {
        self.sensors.is_none() || self.tick_of(status).is_some()
    }

    /// The control channel's reading: the filtered one of the device's status. Without it the core
    /// rejects the raw sample, and this says why.
    pub fn control(&self, status: &DeviceStatus) -> ChannelReading {
        if let Some(milli) = status.reading_mc {
            return ChannelReading::Celsius(f64::from(milli) / 1e3);
        }
        match self.sample(status, |(control, _)| control, |tick| tick.inputs().control) {
            Some(Err(fault)) => ChannelReading::Fault(fault_text(fault)),
            Some(Ok(_)) => ChannelReading::Fault(fault_text(SensorFault::Implausible)),
            None => ChannelReading::Unknown,
        }
    }

    /// The limit channel's reading, unfiltered.
    pub fn limit(&self, status: &DeviceStatus) -> ChannelReading {
        match self.sample(status, |(_, limit)| limit, |tick| tick.inputs().limit) {
            Some(Ok(Reading { celsius, is_upper_bound: true, .. })) => {
                ChannelReading::AtMost(celsius.get().into())
            }
            Some(Ok(Reading { celsius, .. })) => ChannelReading::Celsius(celsius.get().into()),
            Some(Err(fault)) => ChannelReading::Fault(fault_text(fault)),
            None => ChannelReading::Unknown,
        }
    }

    fn sample(
        &self,
        status: &DeviceStatus,
        sensor: impl Fn((SensorData, SensorData)) -> SensorData,
        sample: impl Fn(&Tick) -> Option<ThermocoupleSample>,
    ) -> Option<Result<Reading, SensorFault>> {
        let tick = self.tick_of(status)?;
        Some(ChannelReader::default().read(&sensor(self.sensors?), sample(tick).as_ref()))
    }

    fn tick_of(&self, status: &DeviceStatus) -> Option<&Tick> {
        self.tick.as_ref().filter(|tick| tick.at_ms.abs_diff(status.at_ms) <= TICK_AGE_MAX_MS)
    }
}

const fn fault_text(fault: SensorFault) -> &'static str {
    match fault {
        SensorFault::Missing => "no answer",
        SensorFault::Open => "open",
        SensorFault::Implausible => "implausible",
    }
}
