//! The setpoint's way from here to there: steady rate, rounded corners.

use serde::Serialize;

use crate::TICK_S;

/// Time over which the setpoint takes up or gives up its rate (s). A corner rounded so lets the
/// heat stored in the element run out before the reading arrives.
const CORNER_S: f32 = 40.0;

/// A lag beyond which the setpoint waits for the furnace (K): a setpoint that runs away from a
/// furnace at full power comes back as overshoot.
const LAG_MAX_K: f32 = 30.0;

/// Closer than this counts as there (K).
const THERE_K: f32 = 0.002;

/// What the control loop follows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Setpoint {
    /// Temperature (°C).
    pub celsius: f32,
    /// Its rate (K/s).
    pub rate_k_per_s: f32,
    /// What rounding took from the temperature so far (K). Near 1100 °C the numbers lie 0.12 mK
    /// apart: without this a slow ramp would be some per cent too fast or would not move.
    owed_k: f32,
}

impl Setpoint {
    /// A setpoint at rest.
    pub const fn at(celsius: f32) -> Self {
        Self { celsius, rate_k_per_s: 0.0, owed_k: 0.0 }
    }

    /// One tick towards `to_c` at no more than `rate` (K/s, above zero). Takes up its rate and gives
    /// it up again before the target, or where it has to wait, over [`CORNER_S`]; at the target it
    /// rests. Never passes the target, and never leaves the span between where it is and where it
    /// goes.
    pub(super) fn towards(self, to_c: f32, rate: f32, reading_c: f32, wait: bool) -> Self {
        let way = to_c - self.celsius;
        let up = if way < 0.0 { -1.0 } else { 1.0 };
        let (way, speed) = (way * up, (self.rate_k_per_s * up).max(0.0));
        let change = rate * (TICK_S / CORNER_S);
        let lags = (self.celsius - reading_c) * up > LAG_MAX_K;
        // Braking distance v² / 2a, with a = rate / CORNER_S.
        let brakes = speed * speed * CORNER_S >= 2.0 * rate * way;
        let speed = if wait || lags || brakes { speed - change } else { speed + change };
        let floor = if wait || lags { 0.0 } else { change };
        let speed = speed.min(rate).max(floor);
        let step = speed * TICK_S;
        if way - step <= THERE_K {
            return Self::at(to_c);
        }
        let step = step * up + self.owed_k;
        let celsius = self.celsius + step;
        let owed_k = step - (celsius - self.celsius);
        Self { celsius, rate_k_per_s: speed * up, owed_k }
    }
}
