//! Heating: feed-forward from the furnace's own table, trimmed.

use serde::Serialize;

use super::{Trim, TrimGains};
use crate::TICK_S;
use crate::furnace::{FeedForward, Furnace};
use crate::sequencer::Setpoint;

/// Memory of the heating control. It lives only while something is being followed, so
/// that every heated stretch starts without an old integral.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct HeatControl {
    following: Option<LoopState>,
}

/// What following a setpoint has to remember.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct LoopState {
    trim: Trim,
    /// What the tables say, and for how many more ticks that is fresh: in a second no furnace
    /// gets far along a table whose points lie hundreds of kelvin apart.
    need: FeedForward,
    gains: TrimGains,
    fresh_ticks: u8,
}

/// Ticks between two looks into the tables.
const TABLE_TICKS: u8 = 10;

impl HeatControl {
    /// The duty, 0 to 1, that follows `setpoint`; none without a setpoint or a reading.
    pub fn duty(
        &mut self,
        furnace: &Furnace,
        setpoint: Option<Setpoint>,
        reading_c: Option<f32>,
    ) -> f32 {
        let (Some(setpoint), Some(reading)) = (setpoint, reading_c) else {
            if setpoint.is_none() {
                self.following = None;
            }
            return 0.0;
        };
        let following =
            self.following.get_or_insert_with(|| LoopState::new(furnace, setpoint.celsius));
        following.refresh(furnace, setpoint.celsius);
        let need = &following.need;
        let watt = need.hold_w + need.heat_capacity_j_per_k * setpoint.rate_k_per_s;
        let feed = watt / furnace.heater.rated_w;
        following.trim.step(&following.gains, setpoint.celsius, reading, feed)
    }
}

impl LoopState {
    fn new(furnace: &Furnace, celsius: f32) -> Self {
        Self {
            trim: Trim::new(TICK_S),
            need: furnace.heater.feed_forward_at(celsius),
            gains: gains(furnace, celsius),
            fresh_ticks: TABLE_TICKS,
        }
    }

    fn refresh(&mut self, furnace: &Furnace, celsius: f32) {
        self.fresh_ticks = self.fresh_ticks.saturating_sub(1);
        if self.fresh_ticks == 0 {
            self.need = furnace.heater.feed_forward_at(celsius);
            self.gains = gains(furnace, celsius);
            self.fresh_ticks = TABLE_TICKS;
        }
    }
}

fn gains(furnace: &Furnace, celsius: f32) -> TrimGains {
    let gains = furnace.gains_at(celsius);
    TrimGains {
        proportional: gains.proportional,
        integral: gains.integral,
        derivative: gains.derivative,
    }
}
