//! The setpoint profile of a ramp: a constant rate with rounded corners.

use crate::TICK_S;
use crate::demand::Setpoint;
use crate::furnace::Coast;
use crate::units::Celsius;

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
pub struct Ramp {
    /// Target (°C).
    pub to_c: f32,
    /// Where the setpoint comes to rest (°C): the target, or that of the next ramp if it goes on up.
    pub rest_c: f32,
    /// Rate (K/s, above zero).
    pub rate: f32,
}

impl Ramp {
    /// A ramp to `to_mc` (thousandths of °C) at a rate (thousandths of K/min); `next_mc` is the target of
    /// the next step if that is a ramp.
    pub fn new(to_mc: i32, rate_mk_per_min: u32, next_mc: Option<i32>) -> Self {
        let to_c = Celsius::from_milli(to_mc).get();
        let rest_c = next_mc.map_or(to_c, |mc| Celsius::from_milli(mc).get()).max(to_c);
        Self { to_c, rest_c, rate: rate_mk_per_min as f32 * (0.001 / 60.0) }
    }
}

impl Setpoint {
    /// The bits of its numbers, for a checksum.
    pub(super) fn bits(self) -> [u32; 4] {
        let Self { celsius, rate_k_per_s, rounding_k, rest_c } = self;
        [celsius.to_bits(), rate_k_per_s.to_bits(), rounding_k.to_bits(), rest_c.to_bits()]
    }

    /// True if it does not move and is exactly at this temperature.
    pub fn is_steady_at(&self, celsius: f32) -> bool {
        *self == Self { rest_c: self.rest_c, ..Self::steady(celsius) }
    }

    /// The setpoint one tick later on its way along a ramp. It accelerates and brakes over
    /// [`CORNER_S`], brakes early enough for the heat that `coast` describes, stops while `wait` is set
    /// or the reading lags, and never moves past or away from the target.
    pub fn step_along(self, ramp: &Ramp, coast: &Coast, reading_c: f32, wait: bool) -> Self {
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
