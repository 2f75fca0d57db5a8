//! Whether a furnace's own data are fit to be trusted with heat. The profile reader on the desk
//! checks more and says more; this is what the core itself relies on.

use serde::{Deserialize, Serialize};

use super::{FeedForward, Furnace, Gains, Limits};
use crate::sensors::ThermocoupleType;
use crate::units::Celsius;

/// What is unfit about a furnace's data. A link carries the number of a variant: new ones are
/// added at the end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FurnaceError {
    /// The control thermocouple cannot be read when cold.
    ControlSensor,
    /// A limit is not a number above zero, or the programme's is not below the furnace's.
    Limits,
    /// The heater's power or the mains frequency is none.
    Heater,
    /// The feed-forward table is empty, out of order, or holds something that is no power.
    FeedForward,
    /// The table of gains is empty, out of order, or holds something that is no gain.
    Gains,
}

impl Furnace {
    /// Looks for the first thing that is unfit.
    ///
    /// # Errors
    /// What it is.
    #[cold]
    #[inline]
    pub fn check(&self) -> Result<(), FurnaceError> {
        let heater = &self.heater;
        if matches!(self.control_sensor, ThermocoupleType::B) {
            Err(FurnaceError::ControlSensor)
        } else if !limits_fit(&self.limits) {
            Err(FurnaceError::Limits)
        } else if !above_zero(heater.rated_w) || !matches!(heater.mains_hz, 50 | 60) {
            Err(FurnaceError::Heater)
        } else if !rises(&heater.feed_forward, |point| point.at)
            || !heater.feed_forward.iter().all(feed_forward_fits)
        {
            Err(FurnaceError::FeedForward)
        } else if !rises(&self.gains, |point| point.at) || !self.gains.iter().all(gains_fit) {
            Err(FurnaceError::Gains)
        } else {
            Ok(())
        }
    }
}

#[inline]
fn limits_fit(limits: &Limits) -> bool {
    limits.programme_max < limits.furnace_max
        && limits.firing_max_s > 0
        && above_zero(limits.overshoot_max_k)
        && above_zero(limits.ramp_max_k_per_min)
        && above_zero(limits.slew_max_k_per_s)
        && above_zero(limits.disagree_max_k)
}

#[inline]
fn feed_forward_fits(point: &FeedForward) -> bool {
    not_below_zero(point.hold_w) && above_zero(point.heat_capacity_j_per_k)
}

#[inline]
fn gains_fit(point: &Gains) -> bool {
    not_below_zero(point.proportional)
        && not_below_zero(point.integral)
        && not_below_zero(point.derivative)
}

fn above_zero(value: f32) -> bool {
    value.is_finite() && value > 0.0
}

fn not_below_zero(value: f32) -> bool {
    value.is_finite() && value >= 0.0
}

/// A table with at least one point, coolest first.
fn rises<T>(table: &[T], at: impl Fn(&T) -> Celsius) -> bool {
    let mut last = None;
    for point in table {
        let celsius = at(point).get();
        if last.is_some_and(|last| celsius <= last) {
            return false;
        }
        last = Some(celsius);
    }
    last.is_some()
}
