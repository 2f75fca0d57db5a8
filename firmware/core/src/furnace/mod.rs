//! What the device knows of its own furnace. The profile file says it; a local action stores
//! it; no message can raise a limit in it.

mod check;
mod digest;

use heapless::Vec;
use serde::{Deserialize, Serialize};

use crate::sensors::ThermocoupleType;
use crate::units::Celsius;

pub use check::FurnaceError;
pub use digest::FURNACE_BYTES_MAX;

/// Most points of a gain or feed-forward table.
pub const TABLE_POINTS_MAX: usize = 8;

/// A furnace as its controller sees it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Furnace {
    /// Thermocouple of the control channel.
    pub control_sensor: ThermocoupleType,
    /// Thermocouple of the independent limit channel.
    pub limit_sensor: ThermocoupleType,
    /// What no programme and no fault may exceed.
    pub limits: Limits,
    /// Heater and feed-forward.
    pub heater: Heater,
    /// Gains over temperature, coolest first; at least one.
    pub gains: Vec<Gains, TABLE_POINTS_MAX>,
    /// The pump, if the furnace has one.
    pub vacuum: Option<VacuumSystem>,
    /// What closes the chamber.
    pub closure: Closure,
}

/// What closes the chamber.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Closure {
    /// A motor lifts the table into the muffle.
    Lift,
    /// A person opens a door; the controller can only ask.
    Door,
}

/// What no programme and no fault may exceed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// No channel may read this or more, ever (°C).
    pub furnace_max: Celsius,
    /// Highest setpoint that a programme may ask for (°C).
    pub programme_max: Celsius,
    /// How far a channel may read above the programme's highest setpoint (K).
    pub overshoot_max_k: f32,
    /// Fastest ramp that a programme may ask for (K/min).
    pub ramp_max_k_per_min: f32,
    /// Fastest change that the sensor can really make (K/s). A faster one is no temperature.
    pub slew_max_k_per_s: f32,
    /// How far the two channels may differ (K).
    pub disagree_max_k: f32,
    /// Hottest reading at which the chamber may be opened (°C).
    pub open_below: Celsius,
    /// Hottest reading at which air may be let in (°C).
    pub vent_below: Celsius,
    /// Longest firing (s).
    pub firing_max_s: u32,
}

/// The heater, and what the furnace takes to hold and to rise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heater {
    /// Power at nominal mains (W).
    pub rated_w: f32,
    /// Mains frequency: 50 or 60 Hz.
    pub mains_hz: u8,
    /// Smallest heater current that counts as conducting (mA).
    pub conducting_ma: u32,
    /// Feed-forward over temperature, coolest first; at least one.
    pub feed_forward: Vec<FeedForward, TABLE_POINTS_MAX>,
}

/// Power that a temperature and a rate take.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeedForward {
    /// At this temperature (°C).
    pub at: Celsius,
    /// Power that holds it (W).
    pub hold_w: f32,
    /// Heat that one kelvin of rise takes at a firing's pace (J/K).
    pub heat_capacity_j_per_k: f32,
}

/// Gains of the trim at one temperature. Duty is a fraction of full power.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gains {
    /// At this temperature (°C).
    pub at: Celsius,
    /// Duty per kelvin of error (1/K).
    pub proportional: f32,
    /// Duty per kelvin of error and second (1/(K s)).
    pub integral: f32,
    /// Duty per kelvin a second of the reading's rate (s/K).
    pub derivative: f32,
}

/// The pump and its valves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VacuumSystem {
    /// Lowest pressure that a programme may ask for (Pa).
    pub pressure_min_pa: u32,
}

impl Heater {
    /// Feed-forward at a temperature, between the points by straight lines, beyond them level.
    pub fn feed_forward_at(&self, celsius: f32) -> FeedForward {
        let (low, high, share) = between(&self.feed_forward, celsius, |point| point.at);
        let Some((low, high)) = low.zip(high) else {
            // An empty table: no feed-forward.
            let at = Celsius::from_milli(0);
            return FeedForward { at, hold_w: 0.0, heat_capacity_j_per_k: 0.0 };
        };
        FeedForward {
            at: low.at,
            hold_w: mix(low.hold_w, high.hold_w, share),
            heat_capacity_j_per_k: mix(
                low.heat_capacity_j_per_k,
                high.heat_capacity_j_per_k,
                share,
            ),
        }
    }
}

impl Furnace {
    /// Gains at a temperature, between the points by straight lines, beyond them level. An
    /// empty table has no gains, so that nothing trims.
    pub fn gains_at(&self, celsius: f32) -> Gains {
        let (low, high, share) = between(&self.gains, celsius, |point| point.at);
        let Some((low, high)) = low.zip(high) else {
            let at = Celsius::from_milli(0);
            return Gains { at, proportional: 0.0, integral: 0.0, derivative: 0.0 };
        };
        Gains {
            at: low.at,
            proportional: mix(low.proportional, high.proportional, share),
            integral: mix(low.integral, high.integral, share),
            derivative: mix(low.derivative, high.derivative, share),
        }
    }
}

fn mix(low: f32, high: f32, share: f32) -> f32 {
    low + (high - low) * share
}

/// The points of a table on either side of a temperature, and how far it lies between them.
fn between<T>(
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
