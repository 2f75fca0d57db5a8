//! The device's data about its own furnace. They come from a profile file and are stored by a local
//! action at the device; no message can raise a limit.

mod check;
mod digest;
mod guard;
mod stored_heat;

use heapless::Vec;
use serde::{Deserialize, Serialize};

pub use crate::sensors::SensorData;
use crate::units::Celsius;

pub use check::{FEED_MAX, FurnaceError};
pub use digest::FURNACE_BYTES_MAX;
pub use guard::{FURNACE_PASS_TICKS, FurnaceGuard, FurnaceGuardPosition};
pub use stored_heat::{Coast, StoredHeat};

/// Maximum number of points in a gain or feed-forward table.
pub const TABLE_POINTS_MAX: usize = 8;

/// Reading from which on nothing in the chamber dries or burns off any more, so that the pressure depends
/// on pump, valves and seals alone (°C); common practice, no source.
pub const DRY_FROM_C: f32 = 500.0;

/// The furnace data that the controller uses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Furnace {
    /// The thermocouple of the control channel.
    pub control_sensor: SensorData,
    /// The thermocouple of the independent limit channel.
    pub limit_sensor: SensorData,
    /// Limits for programmes and for the interlock.
    pub limits: Limits,
    /// Heater and feed-forward table.
    pub heater: Heater,
    /// Gain table, coolest point first; at least one point.
    pub gains: Vec<Gains, TABLE_POINTS_MAX>,
    /// The vacuum system; `None` without a pump.
    pub vacuum: Option<VacuumSystem>,
    /// How the chamber is closed.
    pub closure: Closure,
}

/// How the chamber is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Closure {
    /// A motorised lift raises the table into the muffle.
    Lift,
    /// A door that a person moves; the controller can only ask for it.
    Door,
}

/// Limits for programmes and for the interlock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Trip temperature of both channels, at all times (°C).
    pub furnace_max: Celsius,
    /// Maximum setpoint of a programme (°C).
    pub programme_max: Celsius,
    /// Allowed overshoot above the programme's maximum setpoint (K).
    pub overshoot_max_k: f32,
    /// Maximum ramp rate of a programme (K/min).
    pub ramp_max_k_per_min: f32,
    /// Maximum rate at which a real reading can change (K/s). A faster change is implausible.
    pub slew_max_k_per_s: f32,
    /// Allowed difference between the two channels (K).
    pub disagree_max_k: f32,
    /// Allowed deviation of that difference from the expected one, once a soak has settled (K).
    pub settled_difference_max_k: f32,
    /// A programme that begins with heat starts below this reading only (°C).
    pub start_below: Celsius,
    /// The chamber may be opened below this reading (°C).
    pub open_below: Celsius,
    /// The vent valve may be opened below this reading (°C).
    pub vent_below: Celsius,
    /// Maximum duration of a firing (s).
    pub firing_max_s: u32,
}

/// The heater and its feed-forward table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heater {
    /// Rated power at nominal mains voltage (W).
    pub rated_w: f32,
    /// Mains frequency: 50 or 60 Hz.
    pub mains_hz: u8,
    /// Minimum heater current that counts as conducting (mA).
    pub conducting_ma: u32,
    /// Expected current at full conduction and nominal mains (mA rms); `None` without a current
    /// sensor.
    pub full_current_ma: Option<u32>,
    /// The contactor has an auxiliary contact.
    pub auxiliary_contact: bool,
    /// Zero crossings of the mains are counted.
    pub counts_crossings: bool,
    /// Heat that flows on after the heater is off.
    pub stored_heat: StoredHeat,
    /// Feed-forward table, coolest point first; at least one point.
    pub feed_forward: Vec<FeedForward, TABLE_POINTS_MAX>,
}

/// A point of the feed-forward table: the power that the furnace needs at a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeedForward {
    /// Temperature (°C).
    pub at: Celsius,
    /// Power that keeps this temperature (W).
    pub hold_w: f32,
    /// Effective heat capacity at typical ramp rates (J/K).
    pub heat_capacity_j_per_k: f32,
    /// Reading of the limit channel above that of the control channel while the heater gives `hold_w`
    /// (K).
    pub limit_above_control_k: f32,
}

/// A point of the gain table: the trim's gains at a temperature. Duty is a fraction of full power.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gains {
    /// Temperature (°C).
    pub at: Celsius,
    /// Duty per kelvin of error (1/K).
    pub proportional: f32,
    /// Duty per kelvin second of integrated error (1/(K s)).
    pub integral: f32,
    /// Duty per kelvin per second of the reading's rate (s/K).
    pub derivative: f32,
}

/// The pump and its valves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VacuumSystem {
    /// Minimum pressure that a programme may ask for (Pa).
    pub pressure_min_pa: u32,
}

impl Heater {
    /// Feed-forward at a temperature: linear between the points, constant beyond the ends.
    pub fn feed_forward_at(&self, celsius: f32) -> FeedForward {
        let (low, high, share) = bracket(&self.feed_forward, celsius, |point| point.at);
        let Some((low, high)) = low.zip(high) else {
            // An empty table has no feed-forward.
            let at = Celsius::from_milli(0);
            return FeedForward {
                at,
                hold_w: 0.0,
                heat_capacity_j_per_k: 0.0,
                limit_above_control_k: 0.0,
            };
        };
        FeedForward {
            at: low.at,
            hold_w: lerp(low.hold_w, high.hold_w, share),
            heat_capacity_j_per_k: lerp(
                low.heat_capacity_j_per_k,
                high.heat_capacity_j_per_k,
                share,
            ),
            limit_above_control_k: lerp(
                low.limit_above_control_k,
                high.limit_above_control_k,
                share,
            ),
        }
    }
}

impl Furnace {
    /// Gains at a temperature: linear between the points, constant beyond the ends, zero for an
    /// empty table.
    pub fn gains_at(&self, celsius: f32) -> Gains {
        let (low, high, share) = bracket(&self.gains, celsius, |point| point.at);
        let Some((low, high)) = low.zip(high) else {
            let at = Celsius::from_milli(0);
            return Gains { at, proportional: 0.0, integral: 0.0, derivative: 0.0 };
        };
        Gains {
            at: low.at,
            proportional: lerp(low.proportional, high.proportional, share),
            integral: lerp(low.integral, high.integral, share),
            derivative: lerp(low.derivative, high.derivative, share),
        }
    }
}

fn lerp(low: f32, high: f32, share: f32) -> f32 {
    low + (high - low) * share
}

/// The table points below and above a temperature, and its relative position between them, 0 to 1.
fn bracket<T>(
    table: &[T],
    celsius: f32,
    at: impl Fn(&T) -> Celsius,
) -> (Option<&T>, Option<&T>, f32) {
    let above = table.iter().position(|point| celsius < at(point).get());
    match above {
        None => (table.last(), table.last(), 0.0),
        Some(0) => (table.first(), table.first(), 0.0),
        Some(index) => {
            let (low, high) = (table.get(index.saturating_sub(1)), table.get(index));
            let share = match (low, high) {
                (Some(low), Some(high)) => {
                    (celsius - at(low).get()) / (at(high).get() - at(low).get())
                }
                (None, _) | (_, None) => 0.0,
            };
            (low, high, share)
        }
    }
}
