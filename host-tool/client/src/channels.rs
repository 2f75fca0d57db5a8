//! What the two thermocouples of a furnace read, each by itself.

use saggar_core::furnace::Furnace;
use saggar_core::io::ThermocoupleSample;
use saggar_core::sensors::{Channel, Reading, SensorFault, ThermocoupleType};
use saggar_device::wire::{DeviceStatus, Tick};

use crate::link::{Carrier, Desk, Failed, What};

/// A tick that is older than the status it is shown with says nothing any more (ms).
const AGE_MAX_MS: u64 = 3_000;

/// What a channel reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reads {
    /// This temperature (°C).
    Celsius(f64),
    /// No more than this temperature: a type B when it is cold.
    AtMost(f64),
    /// Nothing, and why.
    Fault(&'static str),
    /// Nobody knows.
    Unknown,
}

impl Reads {
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
    pub fn at<C: Carrier>(desk: &mut Desk<C>) -> Result<Self, Failed> {
        match desk.fetch(What::Furnace) {
            Ok(furnace) => Ok(Self::of(&furnace)),
            Err(Failed::Refused(_) | Failed::Odd(_)) => Ok(Self::default()),
            Err(failed) => Err(failed),
        }
    }

    /// Channels of the furnace with these data. Without data that can be read there is only what
    /// the device itself says.
    pub fn of(furnace: &[u8]) -> Self {
        let furnace = postcard::from_bytes::<Furnace>(furnace).ok();
        let sensors = furnace.map(|furnace| (furnace.control_sensor, furnace.limit_sensor));
        Self { sensors, tick: None }
    }

    /// Takes a tick.
    pub const fn take(&mut self, tick: &Tick) {
        self.tick = Some(*tick);
    }

    /// Whether what is known of them belongs to this status.
    pub fn are_of(&self, status: &DeviceStatus) -> bool {
        self.sensors.is_none() || self.tick_of(status).is_some()
    }

    /// What the control channel reads. The device's own word, which is filtered, goes before the
    /// raw sample; without it the core does not believe the sample, whatever it is.
    pub fn control(&self, status: &DeviceStatus) -> Reads {
        if let Some(milli) = status.reading_mc {
            return Reads::Celsius(f64::from(milli) / 1e3);
        }
        match self.sample(status, |(control, _)| control, |tick| tick.inputs().control) {
            Some(Err(fault)) => Reads::Fault(words(fault)),
            Some(Ok(_)) => Reads::Fault(words(SensorFault::Implausible)),
            None => Reads::Unknown,
        }
    }

    /// What the limit channel reads, unfiltered.
    pub fn limit(&self, status: &DeviceStatus) -> Reads {
        match self.sample(status, |(_, limit)| limit, |tick| tick.inputs().limit) {
            Some(Ok(Reading { celsius, at_most: true, .. })) => {
                Reads::AtMost(celsius.get().into())
            }
            Some(Ok(Reading { celsius, .. })) => Reads::Celsius(celsius.get().into()),
            Some(Err(fault)) => Reads::Fault(words(fault)),
            None => Reads::Unknown,
        }
    }

    fn sample(
        &self,
        status: &DeviceStatus,
        sensor: impl Fn((ThermocoupleType, ThermocoupleType)) -> ThermocoupleType,
        sample: impl Fn(&Tick) -> Option<ThermocoupleSample>,
    ) -> Option<Result<Reading, SensorFault>> {
        let tick = self.tick_of(status)?;
        Some(Channel::default().read(sensor(self.sensors?), sample(tick).as_ref()))
    }

    fn tick_of(&self, status: &DeviceStatus) -> Option<&Tick> {
        self.tick.as_ref().filter(|tick| tick.at_ms.abs_diff(status.at_ms) <= AGE_MAX_MS)
    }
}

const fn words(fault: SensorFault) -> &'static str {
    match fault {
        SensorFault::Missing => "no answer",
        SensorFault::Open => "open",
        SensorFault::Implausible => "implausible",
    }
}
