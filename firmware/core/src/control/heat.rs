//! The temperature loop: feed-forward from the furnace's table plus a PID trim.

use serde::Serialize;

use super::{Trim, TrimGains};
use crate::TICK_S;
use crate::demand::Setpoint;
use crate::furnace::{FeedForward, Furnace};

/// The temperature loop. Its state exists only while there is a setpoint, so that every heated
/// stretch starts with a fresh integral.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct HeatControl {
    state: Option<LoopState>,
}

/// State of the loop while it follows a setpoint.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct LoopState {
    trim: Trim,
    /// Feed-forward values of the furnace's table at the setpoint.
    feed_forward: FeedForward,
    /// Gains of the furnace's table at the setpoint.
    gains: TrimGains,
    /// Ticks until both are looked up again.
    ticks_to_lookup: u8,
}

/// Ticks between two table lookups. Once a second is enough, because the table points lie hundreds
/// of kelvin apart.
const TABLE_TICKS: u8 = 10;

impl HeatControl {
    /// The duty for `setpoint`, 0 to 1; zero without a setpoint or a reading.
    pub fn duty(
        &mut self,
        furnace: &Furnace,
        setpoint: Option<Setpoint>,
        reading_c: Option<f32>,
    ) -> f32 {
        let (Some(setpoint), Some(reading)) = (setpoint, reading_c) else {
            if setpoint.is_none() {
                self.state = None;
            }
            return 0.0;
        };
        let state = self.state.get_or_insert_with(|| LoopState::new(furnace, setpoint.celsius));
        state.refresh(furnace, setpoint.celsius);
        let table = &state.feed_forward;
        let watt = table.hold_w + table.heat_capacity_j_per_k * setpoint.rate_k_per_s;
        let feed = watt / furnace.heater.rated_w;
        state.trim.step(&state.gains, setpoint.celsius, reading, feed)
    }
}

impl LoopState {
    fn new(furnace: &Furnace, celsius: f32) -> Self {
        Self {
            trim: Trim::new(TICK_S),
            feed_forward: furnace.heater.feed_forward_at(celsius),
            gains: gains(furnace, celsius),
            ticks_to_lookup: TABLE_TICKS,
        }
    }

    fn refresh(&mut self, furnace: &Furnace, celsius: f32) {
        self.ticks_to_lookup = self.ticks_to_lookup.saturating_sub(1);
        if self.ticks_to_lookup == 0 {
            self.feed_forward = furnace.heater.feed_forward_at(celsius);
            self.gains = gains(furnace, celsius);
            self.ticks_to_lookup = TABLE_TICKS;
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
