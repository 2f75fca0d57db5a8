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

#[cfg(test)]
mod tests {
    use super::{Ramp, Setpoint};
    use crate::furnace::Coast;

    /// Rate after a tick (K/s) from 800 °C and a rate of 0.5 K/s towards a target, with an acceleration of
    /// 0.0025 K/s in a tick.
    fn rate(to_c: f32, rest_c: f32, coast: Coast, reading_c: f32, wait: bool) -> f32 {
        let up = if to_c < 800.0 { -1.0 } else { 1.0 };
        let from = Setpoint { rate_k_per_s: 0.5 * up, ..Setpoint::steady(800.0) };
        let next = from.step_along(&Ramp { to_c, rest_c, rate: 1.0 }, &coast, reading_c, wait);
        assert!((next.celsius - 800.0 - next.rate_k_per_s * 0.1).abs() < 1.0e-4, "{next:?}");
        next.rate_k_per_s * up
    }

    #[track_caller]
    fn slows(rate: f32, expected: bool) {
        let next = if expected { 0.4975 } else { 0.5025 };
        assert!((rate - next).abs() < 1.0e-6, "{rate} K/s, not {next}");
    }

    #[test]
    fn it_slows_for_a_wait_and_for_a_furnace_that_lags_by_more_than_30_k() {
        for to_c in [1000.0, 600.0] {
            let up = if to_c < 800.0 { -1.0 } else { 1.0 };
            let lag =
                |lag_k: f32| rate(to_c, to_c, Coast::default(), 800.0 - lag_k * up, false);
            for (lag_k, expected) in
                [(0.0, false), (30.0, false), (30.01, true), (-90.0, false)]
            {
                slows(lag(lag_k), expected);
            }
            slows(rate(to_c, to_c, Coast::default(), 800.0, true), true);
        }
    }

    /// From 0.5 K/s, 5 K before the target.
    #[test]
    fn it_brakes_in_time() {
        for (to_c, expected) in [(805.0, true), (805.01, false), (795.0, true), (794.99, false)]
        {
            slows(rate(to_c, to_c, Coast::default(), 800.0, false), expected);
        }
    }

    /// With a decay of 40 s the reading goes on by 20 K from 0.5 K/s, up to where it comes to rest.
    #[test]
    fn it_brakes_for_the_stored_heat_on_the_way_up() {
        let coast = Coast { decay_s: 40.0, cooling_k_per_s: 0.0 };
        for (to_c, rest_c, expected) in [
            (820.0, 820.0, true),
            (820.01, 820.01, false),
            (810.0, 830.0, false),
            (780.0, 780.0, false),
        ] {
            slows(rate(to_c, rest_c, coast, 800.0, false), expected);
        }
    }

    /// It arrives exactly, at rest, and still knows where it would come to rest.
    #[test]
    fn it_arrives_exactly() {
        let coast = Coast { decay_s: 40.0, cooling_k_per_s: 0.0 };
        for (from_c, to_c, rest_c) in [(799.98, 800.0, 800.0), (799.98, 800.0, 900.0)] {
            let from = Setpoint { rate_k_per_s: 0.3, ..Setpoint::steady(from_c) };
            let ramp = Ramp { to_c, rest_c, rate: 1.0 };
            let next = from.step_along(&ramp, &coast, from_c, false);
            assert_eq!(next, Setpoint { rest_c, ..Setpoint::steady(to_c) });
            assert!(next.is_steady_at(to_c));
        }
    }
}
