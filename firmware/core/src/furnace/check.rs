//! Validation of the furnace's own data. The host tool checks profiles more thoroughly; these are
//! the properties that the core itself relies on.

use serde::{Deserialize, Serialize};

use super::{FeedForward, Furnace, Gains, Heater, Limits};
use crate::sensors::ThermocoupleType;
use crate::units::Celsius;

/// What is wrong with a furnace's data. A link carries the variant's number, so add new variants at
/// the end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FurnaceError {
    /// The control thermocouple is a type B, which gives no reading while the furnace is cold.
    ControlSensor,
    /// A limit is not a number above zero, or the maximum setpoint is not below the furnace's maximum
    /// temperature.
    Limits,
    /// The heater's rated power or stored heat is not above zero, its full current is below twice
    /// the conducting one, or the mains frequency is neither 50 nor 60 Hz.
    Heater,
    /// The feed-forward table is empty, out of order, contains an invalid number, or asks for more than
    /// [`FEED_MAX`] times the rated power at the fastest ramp.
    FeedForward,
    /// The gain table is empty, out of order, or contains an invalid number.
    Gains,
}

/// Maximum feed-forward at the fastest ramp that the furnace allows, as a multiple of the rated power. More
/// cannot be a table of this furnace: no programme could be followed.
pub const FEED_MAX: f32 = 3.0;

impl Furnace {
    /// Checks that the data may be trusted with heat.
    ///
    /// # Errors
    /// The first problem found.
    #[cold]
    #[inline]
    pub fn check(&self) -> Result<(), FurnaceError> {
        let heater = &self.heater;
        if matches!(self.control_sensor.kind, ThermocoupleType::B) {
            Err(FurnaceError::ControlSensor)
        } else if !limits_are_valid(&self.limits) {
            Err(FurnaceError::Limits)
        } else if !heater_is_valid(heater) {
            Err(FurnaceError::Heater)
        } else if !is_ascending(&heater.feed_forward, |point| point.at)
            || !heater.feed_forward.iter().all(feed_forward_is_valid)
            || !heater.feed_forward.iter().all(|point| self.can_feed(point))
        {
            Err(FurnaceError::FeedForward)
        } else if !is_ascending(&self.gains, |point| point.at)
            || !self.gains.iter().all(gains_are_valid)
        {
            Err(FurnaceError::Gains)
        } else {
            Ok(())
        }
    }

    /// True if the heater's power is of the size that this point needs at the fastest ramp.
    fn can_feed(&self, point: &FeedForward) -> bool {
        let rate_k_per_s = self.limits.ramp_max_k_per_min * (1.0 / 60.0);
        let feed_w = point.hold_w + point.heat_capacity_j_per_k * rate_k_per_s;
        feed_w <= FEED_MAX * self.heater.rated_w
    }
}

#[inline]
fn limits_are_valid(limits: &Limits) -> bool {
    limits.programme_max < limits.furnace_max
        && limits.firing_max_s > 0
        && above_zero(limits.overshoot_max_k)
        && above_zero(limits.ramp_max_k_per_min)
        && above_zero(limits.slew_max_k_per_s)
        && above_zero(limits.disagree_max_k)
        && above_zero(limits.settled_difference_max_k)
}

#[inline]
fn heater_is_valid(heater: &Heater) -> bool {
    let stored = &heater.stored_heat;
    above_zero(heater.rated_w)
        && matches!(heater.mains_hz, 50 | 60)
        && heater
            .full_current_ma
            .is_none_or(|full_ma| full_ma > 0 && full_ma / 2 >= heater.conducting_ma)
        && above_zero(stored.element_j_per_k)
        && above_zero(stored.element_w_per_k4)
        && above_zero(stored.muffle_j_per_k)
}

#[inline]
fn feed_forward_is_valid(point: &FeedForward) -> bool {
    not_below_zero(point.hold_w)
        && above_zero(point.heat_capacity_j_per_k)
        && point.limit_above_control_k.is_finite()
}

#[inline]
fn gains_are_valid(point: &Gains) -> bool {
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

/// True for a table with at least one point and strictly ascending temperatures.
fn is_ascending<T>(table: &[T], at: impl Fn(&T) -> Celsius) -> bool {
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
