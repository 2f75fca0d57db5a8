//! Raw codes to temperatures, or the fault that prevents it.
//!
//! Stateless except for a cache: the voltage of the last cold-junction code, which rarely changes.

mod coefficients;
mod polynomial;
mod thermocouple;

use serde::{Deserialize, Serialize};

use crate::io::ThermocoupleSample;
use crate::units::Celsius;

pub use thermocouple::{TYPE_B_FLOOR_C, ThermocoupleType};

/// Maximum age of a sample that counts as a reading (ms).
pub const AGE_MAX_MS: u16 = 500;

/// Plausible temperatures of a controller's terminals (thousandths of °C).
const COLD_JUNCTION_MC: core::ops::RangeInclusive<i32> = -10_000..=75_000;

/// Minimum plausible voltage of a cold type B (mV); the minimum of its reference function is
/// −2.585 µV.
const TYPE_B_LOWEST_MV: f32 = -0.05;

/// A thermocouple as the controller knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SensorData {
    /// Its type.
    pub kind: ThermocoupleType,
    /// Correction that is added to every reading (thousandths of K).
    pub correction_mk: i32,
}

impl SensorData {
    /// A sensor without a correction.
    pub const fn new(kind: ThermocoupleType) -> Self {
        Self { kind, correction_mk: 0 }
    }
}

/// A temperature and its age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Temperature of the hot junction.
    pub celsius: Celsius,
    /// The sensor is below its range (a cold type B), so that `celsius` is only an upper bound.
    pub is_upper_bound: bool,
    /// Age of the sample (ms).
    pub age_ms: u16,
}

/// Why a channel has no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SensorFault {
    /// The front end did not answer, or its last sample is too old.
    Missing,
    /// The circuit is open.
    Open,
    /// The voltage is outside this thermocouple type's range, or the terminal temperature is outside
    /// a controller's.
    Implausible,
}

/// Converts the samples of one channel.
#[derive(Clone, Copy, Debug, Default)]
pub struct ChannelReader {
    cold_junction: Option<(i32, f32)>,
}

impl ChannelReader {
    /// Converts one sample of this channel.
    ///
    /// # Errors
    /// [`SensorFault`] if the sample gives no temperature.
    pub fn read(
        &mut self,
        sensor: &SensorData,
        sample: Option<&ThermocoupleSample>,
    ) -> Result<Reading, SensorFault> {
        let kind = sensor.kind;
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
            None => (upper_bound(kind, emf_mv).ok_or(SensorFault::Implausible)?, true),
        };
        let corrected = celsius + Celsius::from_milli(sensor.correction_mk).get();
        let celsius = Celsius::new(corrected).ok_or(SensorFault::Implausible)?;
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
            .emf_mv_f32(Celsius::from_milli(code).get().max(kind.terminal_min_c()))
            .ok_or(SensorFault::Implausible)?;
        self.cold_junction = Some((code, emf_mv));
        Ok(emf_mv)
    }
}

/// The upper bound for a voltage outside the inverse function: a type B below its range is no hotter
/// than [`TYPE_B_FLOOR_C`].
#[cold]
fn upper_bound(kind: ThermocoupleType, emf_mv: f32) -> Option<f32> {
    let cold_b =
        matches!(kind, ThermocoupleType::B) && emf_mv > TYPE_B_LOWEST_MV && emf_mv < 1.0;
    cold_b.then_some(TYPE_B_FLOOR_C)
}
