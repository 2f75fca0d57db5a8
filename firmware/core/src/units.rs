//! Number types that cannot hold a value without meaning.

use core::ops::Sub;

use serde::{Deserialize, Serialize};

/// A temperature in degrees Celsius, finite by construction.
///
/// Every comparison with a NaN is false, so a limit check written the wrong way round would let a
/// NaN pass. A `Celsius` is never NaN: the conversion of a bad reading fails instead.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(try_from = "f32", into = "f32")]
pub struct Celsius(f32);

impl Celsius {
    /// Returns `None` if the number is not finite.
    pub const fn new(celsius: f32) -> Option<Self> {
        if celsius.is_finite() { Some(Self(celsius)) } else { None }
    }

    /// Converts from thousandths of a degree, the unit of programmes.
    pub const fn from_milli(milli: i32) -> Self {
        Self(milli as f32 * 0.001)
    }

    /// The value (°C).
    pub const fn get(self) -> f32 {
        self.0
    }
}

impl TryFrom<f32> for Celsius {
    type Error = &'static str;
    fn try_from(celsius: f32) -> Result<Self, Self::Error> {
        Self::new(celsius).ok_or("a temperature must be finite")
    }
}

impl From<Celsius> for f32 {
    fn from(celsius: Celsius) -> f32 {
        celsius.0
    }
}

impl Sub for Celsius {
    type Output = f32;
    /// The difference (K).
    fn sub(self, other: Self) -> f32 {
        self.0 - other.0
    }
}

/// Time since the board started (ms). 64 bits never wrap.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Instant(u64);

impl Instant {
    /// The instant `millis` milliseconds after the start.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis)
    }

    /// Time since the start (ms).
    pub const fn millis(self) -> u64 {
        self.0
    }

    /// Time since `earlier` (ms); zero if `earlier` is later than `self`.
    pub const fn since(self, earlier: Self) -> u64 {
        self.0.saturating_sub(earlier.0)
    }
}
