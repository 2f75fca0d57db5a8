//! Heating: feed-forward from the furnace's own table, trimmed.

use super::{Trim, TrimGains};
use crate::TICK_S;
use crate::furnace::Furnace;
use crate::sequencer::Setpoint;

/// Memory of the heating control. The trim lives only while something is being followed, so
/// that every heated stretch starts without an old integral.
#[derive(Clone, Debug, Default)]
pub struct HeatControl {
    trim: Option<Trim>,
}

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
                self.trim = None;
            }
            return 0.0;
        };
        let need = furnace.heater.at(setpoint.celsius);
        let watt = need.hold_w + need.heat_capacity_j_per_k * setpoint.rate_k_per_s;
        let feed = watt / furnace.heater.rated_w;
        let gains = furnace.gains_at(setpoint.celsius);
        let gains = TrimGains {
            proportional: gains.proportional,
            integral: gains.integral,
            derivative: gains.derivative,
        };
        let trim = self.trim.get_or_insert_with(|| Trim::new(TICK_S));
        trim.step(&gains, setpoint.celsius, reading, feed)
    }
}
