//! The setpoint profile of a ramp: a constant rate with rounded corners.

use crate::TICK_S;
use crate::demand::Setpoint;
use crate::furnace::Coast;

/// Time over which the setpoint accelerates and brakes (s). The rounded corner gives the heat stored
/// in the element time to flow off before the reading arrives, which limits overshoot.
const CORNER_S: f32 = 40.0;

/// Lag of the reading beyond which the setpoint waits (K): a setpoint that runs away from a furnace
/// at full power would cause overshoot.
const LAG_MAX_K: f32 = 30.0;

/// Distance at which the target counts as reached (K).
const ARRIVED_K: f32 = 0.002;

/// A ramp of the programme.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ramp {
    /// Target (°C).
    pub(super) to_c: f32,
    /// Where the setpoint comes to rest (°C): the target, or that of the next ramp if it goes on up.
    pub(super) rest_c: f32,
    /// Rate (K/s, above zero).
    pub(super) rate: f32,
}

impl Setpoint {
    /// The bits of its numbers, for a checksum.
    pub(super) fn bits(self) -> [u32; 4] {
        let Self { celsius, rate_k_per_s, rounding_k, rest_c } = self;
        [celsius.to_bits(), rate_k_per_s.to_bits(), rounding_k.to_bits(), rest_c.to_bits()]
    }

    /// True if it does not move and is exactly at this temperature.
    pub(super) fn is_steady_at(&self, celsius: f32) -> bool {
        *self == Self { rest_c: self.rest_c, ..Self::steady(celsius) }
    }

    /// The setpoint one tick later on its way along a ramp. It accelerates and brakes over
    /// [`CORNER_S`], brakes early enough for the heat that `coast` describes, stops while `wait` is set
    /// or the reading lags, and never moves past or away from the target.
    pub(super) fn step_along(
        self,
        ramp: &Ramp,
        coast: &Coast,
        reading_c: f32,
        wait: bool,
    ) -> Self {
        let Ramp { to_c, rest_c, rate } = *ramp;
        let distance = to_c - self.celsius;
        let up = if distance < 0.0 { -1.0 } else { 1.0 };
        let (distance, speed) = (distance * up, (self.rate_k_per_s * up).max(0.0));
        let change = rate * (TICK_S / CORNER_S);
        let lags = (self.celsius - reading_c) * up > LAG_MAX_K;
        // Braking distance v² / 2a, with a = rate / CORNER_S.
        let brakes = speed * speed * CORNER_S >= 2.0 * rate * distance;
        let coasts = up > 0.0 && coast.reaches(speed, rest_c - self.celsius);
        let slows = wait || lags || brakes || coasts;
        let speed = if slows { speed - change } else { speed + change };
        let floor = if wait || lags { 0.0 } else { change };
        let speed = speed.min(rate).max(floor);
        let step = speed * TICK_S;
        if distance - step <= ARRIVED_K {
            return Self { rest_c, ..Self::steady(to_c) };
        }
        let step = step * up + self.rounding_k;
        let celsius = self.celsius + step;
        let rounding_k = step - (celsius - self.celsius);
        Self { celsius, rate_k_per_s: speed * up, rounding_k, rest_c }
    }
}
