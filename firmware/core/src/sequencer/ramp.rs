//! The setpoint profile of a ramp: a constant rate with rounded corners.

use crate::TICK_S;
use crate::demand::Setpoint;

/// Time over which the setpoint accelerates and brakes (s). The rounded corner gives the heat stored
/// in the element time to flow off before the reading arrives, which limits overshoot.
const CORNER_S: f32 = 40.0;

/// Lag of the reading beyond which the setpoint waits (K): a setpoint that runs away from a furnace
/// at full power would cause overshoot.
const LAG_MAX_K: f32 = 30.0;

/// Distance at which the target counts as reached (K).
const ARRIVED_K: f32 = 0.002;

impl Setpoint {
    /// The setpoint one tick later on its way to `to_c`, at `rate` (K/s, above zero) or less. It
    /// accelerates and brakes over [`CORNER_S`], stops while `wait` is set or the reading lags,
    /// and never moves past or away from the target.
    pub(super) fn step_towards(self, to_c: f32, rate: f32, reading_c: f32, wait: bool) -> Self {
        let distance = to_c - self.celsius;
        let up = if distance < 0.0 { -1.0 } else { 1.0 };
        let (distance, speed) = (distance * up, (self.rate_k_per_s * up).max(0.0));
        let change = rate * (TICK_S / CORNER_S);
        let lags = (self.celsius - reading_c) * up > LAG_MAX_K;
        // Braking distance v² / 2a, with a = rate / CORNER_S.
        let brakes = speed * speed * CORNER_S >= 2.0 * rate * distance;
        let speed = if wait || lags || brakes { speed - change } else { speed + change };
        let floor = if wait || lags { 0.0 } else { change };
        let speed = speed.min(rate).max(floor);
        let step = speed * TICK_S;
        if distance - step <= ARRIVED_K {
            return Self::steady(to_c);
        }
        let step = step * up + self.rounding_k;
        let celsius = self.celsius + step;
        let rounding_k = step - (celsius - self.celsius);
        Self { celsius, rate_k_per_s: speed * up, rounding_k }
    }
}
