//! What the two thermocouples of a furnace read, each by itself.

use saggar_core::furnace::Furnace;
use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::{ChannelReader, Reading, SensorFault, ThermocoupleType};
use saggar_device::wire::{DeviceStatus, Tick};

use crate::link::{Client, FetchTarget, Link, LinkError};

/// A tick that is older than the status it is shown with says nothing any more (ms).
const TICK_AGE_MAX_MS: u64 = 3_000;

/// What a channel reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ChannelReading {
    /// This temperature (°C).
    Celsius(f64),
    /// No more than this temperature: a type B when it is cold.
    AtMost(f64),
    /// Nothing, and why.
    Fault(&'static str),
    /// Nobody knows.
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

    /// Why there is none, if that is known.
    pub const fn fault(self) -> Option<&'static str> {
        match self {
            Self::Fault(fault) => Some(fault),
            Self::Celsius(_) | Self::AtMost(_) | Self::Unknown => None,
        }
    }
}

/// Both channels of a furnace whose data are known, as of the last tick that was told.
#[derive(Clone, Debug, Default)]
pub struct Channels {
    sensors: Option<(ThermocoupleType, ThermocoupleType)>,
    tick: Option<Tick>,
}

impl Channels {
    /// Those of the furnace of a device. One whose data cannot be had or read has none.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn fetch<C: Link>(desk: &mut Client<C>) -> Result<Self, LinkError> {
        match desk.fetch(FetchTarget::Furnace) {
            Ok(furnace) => Ok(Self::from_furnace_data(&furnace)),
            Err(LinkError::Refused(_) | LinkError::InvalidReply(_)) => Ok(Self::default()),
            Err(failed) => Err(failed),
        }
    }

    /// Channels of the furnace with these data. Without data that can be read there is only what
    /// the device itself says.
    pub fn from_furnace_data(furnace: &[u8]) -> Self {
        let furnace = postcard::from_bytes::<Furnace>(furnace).ok();
        let sensors = furnace.map(|furnace| (furnace.control_sensor, furnace.limit_sensor));
        Self { sensors, tick: None }
    }

    /// Takes a tick.
    pub const fn update(&mut self, tick: &Tick) {
        self.tick = Some(*tick);
    }

    /// Whether what is known of them belongs to this status.
    pub fn are_current_for(&self, status: &DeviceStatus) -> bool {
        self.sensors.is_none() || self.tick_of(status).is_some()
    }

    /// What the control channel reads. The device's own word, which is filtered, goes before the
    /// raw sample; without it the core does not believe the sample, whatever it is.
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

    /// What the limit channel reads, unfiltered.
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
        sensor: impl Fn((ThermocoupleType, ThermocoupleType)) -> ThermocoupleType,
        sample: impl Fn(&Tick) -> Option<ThermocoupleSample>,
    ) -> Option<Result<Reading, SensorFault>> {
        let tick = self.tick_of(status)?;
        Some(ChannelReader::default().read(sensor(self.sensors?), sample(tick).as_ref()))
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
