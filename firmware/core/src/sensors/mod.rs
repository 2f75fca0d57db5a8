//! Station 1: raw codes to temperatures, or the fault that forbids it.
//!
//! Knows nothing of the past but the last cold junction, whose voltage it need not compute
//! again while the code stays the same.

mod coefficients;
mod polynomial;
mod thermocouple;

use crate::io::ThermocoupleSample;
use crate::units::Celsius;

pub use thermocouple::{TYPE_B_FLOOR_C, ThermocoupleType};

/// Oldest sample that counts as a reading (ms).
pub const AGE_MAX_MS: u16 = 500;

/// Terminals of a controller are neither colder nor hotter than this (thousandths of °C).
const COLD_JUNCTION_MC: core::ops::RangeInclusive<i32> = -10_000..=75_000;

/// Lowest voltage that a type B below its range can give (mV): its minimum is −2.585 µV.
const TYPE_B_LOWEST_MV: f32 = -0.05;

/// A temperature and how old it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The temperature of the hot junction.
    pub celsius: Celsius,
    /// The sensor is at or below this temperature and cannot say more (type B when cold).
    pub is_upper_bound: bool,
    /// Age of the sample (ms).
    pub age_ms: u16,
}

/// Why a channel has no temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SensorFault {
    /// The front end did not answer, or its last sample is too old.
    Missing,
    /// The circuit is open.
    Open,
    /// No thermocouple of this type gives this voltage, or no terminals have this temperature.
    Implausible,
}

/// Memory of one channel.
#[derive(Clone, Copy, Debug, Default)]
pub struct ChannelReader {
    cold_junction: Option<(i32, f32)>,
}

impl ChannelReader {
    /// One sample of this channel.
    ///
    /// # Errors
    /// Why there is no temperature in it.
    pub fn read(
        &mut self,
        kind: ThermocoupleType,
        sample: Option<&ThermocoupleSample>,
    ) -> Result<Reading, SensorFault> {
        let sample = sample.ok_or(SensorFault::Missing)?;
        if sample.age_ms > AGE_MAX_MS {
            return Err(SensorFault::Missing);
        }
        if sample.open {
            return Err(SensorFault::Open);
        }
        let cold_mv = self.cold_junction_mv(kind, sample.cold_junction_mc)?;
        let emf_mv = sample.emf_nv as f32 * 1.0e-6 + cold_mv;
        let (celsius, at_most) = match kind.celsius(emf_mv) {
            Some(celsius) => (celsius, false),
            None => (floor(kind, emf_mv).ok_or(SensorFault::Implausible)?, true),
        };
        let celsius = Celsius::new(celsius).ok_or(SensorFault::Implausible)?;
        Ok(Reading { celsius, is_upper_bound: at_most, age_ms: sample.age_ms })
    }

    fn cold_junction_mv(
        &mut self,
        kind: ThermocoupleType,
        code: i32,
    ) -> Result<f32, SensorFault> {
        if let Some((known, emf_mv)) = self.cold_junction
            && known == code
        {
            return Ok(emf_mv);
        }
        if !COLD_JUNCTION_MC.contains(&code) {
            return Err(SensorFault::Implausible);
        }
        let emf_mv = kind
            .emf_mv_quick(Celsius::from_milli(code).get().max(kind.coldest_c()))
            .ok_or(SensorFault::Implausible)?;
        self.cold_junction = Some((code, emf_mv));
        Ok(emf_mv)
    }
}

/// What a voltage outside the inverse still says: a type B below its range is at most as hot as
/// the range's floor.
#[cold]
fn floor(kind: ThermocoupleType, emf_mv: f32) -> Option<f32> {
    let cold_b =
        matches!(kind, ThermocoupleType::B) && emf_mv > TYPE_B_LOWEST_MV && emf_mv < 1.0;
    cold_b.then_some(TYPE_B_FLOOR_C)
}
