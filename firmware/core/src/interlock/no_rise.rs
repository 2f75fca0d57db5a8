//! Detects heat without effect where the stored heat limits the duty, far below full power: the reading
//! stays below its setpoint and does not rise.

use serde::Serialize;

use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// Distance below the setpoint from which a furnace has to rise (K).
const BELOW_K: f32 = 3.0;

/// Rise that counts as one: well above the noise of a reading (K).
const RISE_K: f32 = 1.0;

/// Time without a rise after which heat counts as without effect (checks, so seconds): ten minutes. The
/// reading of a cold element's heat comes minutes later.
const CHECKS: u16 = 600;

/// Rise that the commanded heat must have been enough for in that time (K), with the margin below.
const EXPECTED_MIN_K: f32 = 10.0;

/// Factor on the holding power of the table. It is large because mains at 71 % of their voltage give
/// half of the power, and hold a furnace that the control keeps from more.
const HOLD_MARGIN: f32 = 2.0;

/// The watch on a reading that does not rise.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct NoRiseWatch {
    window: Option<NoRiseWindow>,
}

/// A time in which the reading was below its setpoint and did not rise.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct NoRiseWindow {
    checks: u16,
    min_c: f32,
    expected_k: f32,
}

impl NoRiseWatch {
    /// One check, once a second, with the mean duty since the last. Returns true if heat is without
    /// effect.
    pub(super) fn check(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        duty: f32,
        celsius: f32,
    ) -> bool {
        let below = |setpoint_c: f32| setpoint_c - celsius > BELOW_K;
        if !inputs.demand.setpoint.is_some_and(|setpoint| below(setpoint.celsius)) {
            self.window = None;
            return false;
        }
        let mut window =
            self.window.unwrap_or(NoRiseWindow { checks: 0, min_c: celsius, expected_k: 0.0 });
        // From the minimum: a furnace that falls and then rises is heated.
        window.min_c = window.min_c.min(celsius);
        if celsius > window.min_c + RISE_K {
            self.window = None;
            return false;
        }
        let need = furnace.heater.feed_forward_at(celsius);
        let surplus_w = duty * furnace.heater.rated_w - HOLD_MARGIN * need.hold_w;
        window.expected_k += surplus_w / need.heat_capacity_j_per_k.max(1.0);
        window.checks = window.checks.saturating_add(1);
        self.window = Some(window);
        window.checks >= CHECKS && !(window.expected_k < EXPECTED_MIN_K)
    }
}
