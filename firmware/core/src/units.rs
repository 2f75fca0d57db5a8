//! The numbers that the core computes with: each type can hold only what makes sense.

use core::ops::Sub;

use serde::{Deserialize, Serialize};

/// A temperature in degrees Celsius that is finite by construction.
///
/// A comparison with a NaN is false, so a limit written the wrong way round would let a NaN
/// through. A `Celsius` is never NaN, and a reading that would be is no `Celsius` at all.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(try_from = "f32", into = "f32")]
pub struct Celsius(f32);

impl Celsius {
    /// The temperature, or `None` if the number is not finite.
    pub const fn new(celsius: f32) -> Option<Self> {
        if celsius.is_finite() { Some(Self(celsius)) } else { None }
    }

    /// The temperature from thousandths of a degree, as programmes carry it.
    pub const fn from_milli(milli: i32) -> Self {
        Self(milli as f32 * 0.001)
    }

    /// Degrees Celsius.
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
    /// The difference in kelvin.
    fn sub(self, other: Self) -> f32 {
        self.0 - other.0
    }
}

/// Milliseconds since the board came up. At 64 bits it never wraps.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Instant(u64);

impl Instant {
    /// The instant `millis` milliseconds after start-up.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis)
    }

    /// Milliseconds after start-up.
    pub const fn millis(self) -> u64 {
        self.0
    }

    /// Milliseconds from `earlier` to here; zero if `earlier` is later.
    pub const fn since(self, earlier: Self) -> u64 {
        self.0.saturating_sub(earlier.0)
    }
}
