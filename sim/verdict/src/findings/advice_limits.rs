//! Limits within which advice stays.

use saggar_core::furnace::Furnace;

/// Limits of the furnace: advice beyond them could not be followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdviceLimits {
    /// Highest setpoint of a programme (°C).
    pub programme_max_c: f64,
    /// Longest firing (s).
    pub firing_max_s: f64,
    /// Lowest pressure that a programme may ask for (Pa); `None` without a pump.
    pub pressure_min_pa: Option<f64>,
}

impl AdviceLimits {
    /// The limits of this furnace.
    pub fn of(furnace: &Furnace) -> Self {
        Self {
            programme_max_c: f64::from(furnace.limits.programme_max.get()),
            firing_max_s: f64::from(furnace.limits.firing_max_s),
            pressure_min_pa: furnace.vacuum.map(|vacuum| f64::from(vacuum.pressure_min_pa)),
        }
    }
}
