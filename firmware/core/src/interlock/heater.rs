//! Whether the heater does what it is told: heat without effect, and effect without heat.
//!
//! Looked at once a second. Effect is judged only near full heat, where no furnace can be at
//! rest, against the furnace's own feed-forward table, lagged as a cold furnace lags, over
//! windows of a minute: at part load a table that is a fifth wrong would look like a fault. A
//! heater that fails in a soak is driven to full heat by the control loop, and judged then.

use serde::Serialize;

use super::cause::Cause;
use super::facts::InterlockInputs;
use super::watch::ConsecutiveCount;
use crate::TICK_S;
use crate::furnace::Furnace;

/// Ticks between two looks at the effect.
const LOOK_TICKS: u8 = 10;

/// Length of a window of comparison (looks, so seconds).
const WINDOW_LOOKS: u8 = 60;

/// Lag from element to reading that the expectation is given (s).
const LAG_S: f32 = 40.0;

/// Command that counts as near full heat.
const FULL_HEAT: f32 = 0.8;

/// What holding a temperature may take beyond the table: insulation that is still warming.
const HOLD_MARGIN: f32 = 1.25;

/// Expected rise below which a window says nothing (K).
const RISE_MIN_K: f32 = 15.0;

/// Share of the expected rise that must be seen.
const SHARE_MIN: f32 = 0.25;

/// Ticks for which current may flow uncommanded: 1 s.
const CURRENT_TICKS: u16 = 10;

/// Looks after heat-off during which the element's own heat may raise the reading.
const SETTLE_LOOKS: u16 = 20;

/// The same after the chamber was open: the muffle warms what came in.
const RECOVER_LOOKS: u16 = 600;

/// Rise after that which only a heater can make (K).
const UNASKED_RISE_K: f32 = 25.0;

/// Memory of both watches.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub(super) struct HeaterWatch {
    ticks: u8,
    sent: f32,
    expected_k_per_s: f32,
    window: Option<EffectWindow>,
    current: ConsecutiveCount,
    /// Looks that the reading is still given to settle.
    settling: u16,
    /// The lowest reading since; `None` before the first.
    quiet_c: Option<f32>,
    /// What the last look said of a rise without heat.
    rises: bool,
}

/// One window of comparison.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct EffectWindow {
    looks: u8,
    from_c: f32,
    expected_k: f32,
}

impl HeaterWatch {
    /// Takes one tick.
    pub(super) fn look(
        &mut self,
        furnace: &Furnace,
        facts: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        let sending = facts.commanded_duty > 0.0;
        let leaking = facts.heater_conducting == Some(true) && !sending;
        self.current.take(leaking);
        let stuck = self.current.held(CURRENT_TICKS);
        self.sent += facts.commanded_duty;
        self.ticks = self.ticks.saturating_add(1);
        let effect = if self.ticks >= LOOK_TICKS { self.second(furnace, facts) } else { None };
        if stuck || self.rises { Some(Cause::HeaterStuckOn) } else { effect }
    }

    /// Once a second.
    fn second(&mut self, furnace: &Furnace, facts: &InterlockInputs<'_>) -> Option<Cause> {
        let sent = self.sent / f32::from(LOOK_TICKS);
        self.ticks = 0;
        self.sent = 0.0;
        // A reading that is missing for a moment ends no window.
        let Ok(control) = &facts.estimate.control else { return None };
        let celsius = control.celsius.get();
        let effect = self.effect(furnace, sent, celsius, facts.demand.heat && facts.shut);
        self.rises = self.unasked(sent, celsius, facts.shut);
        effect.then_some(Cause::HeaterWithoutEffect)
    }

    /// True if a window is over and too little came of the heat.
    fn effect(&mut self, furnace: &Furnace, sent: f32, celsius: f32, heating: bool) -> bool {
        if !heating || sent < FULL_HEAT {
            self.window = None;
            self.expected_k_per_s = 0.0;
            return false;
        }
        let look_s = f32::from(LOOK_TICKS) * TICK_S;
        let need = furnace.heater.feed_forward_at(celsius);
        let surplus_w = sent * furnace.heater.rated_w - HOLD_MARGIN * need.hold_w;
        let rate = surplus_w / need.heat_capacity_j_per_k.max(1.0);
        self.expected_k_per_s += (rate - self.expected_k_per_s) * (look_s / LAG_S);
        let mut window =
            self.window.unwrap_or(EffectWindow { looks: 0, from_c: celsius, expected_k: 0.0 });
        window.looks = window.looks.saturating_add(1);
        window.expected_k += self.expected_k_per_s * look_s;
        if window.looks < WINDOW_LOOKS {
            self.window = Some(window);
            return false;
        }
        self.window = None;
        let risen = celsius - window.from_c;
        // Written so that an expectation that is no number counts as missed.
        !(window.expected_k <= RISE_MIN_K) && !(risen > SHARE_MIN * window.expected_k)
    }

    /// True if the reading has risen, long after the last heat, as only a heater can raise it.
    fn unasked(&mut self, sent: f32, celsius: f32, shut: bool) -> bool {
        if !shut {
            self.settling = RECOVER_LOOKS;
        } else if sent > 0.0 {
            self.settling = self.settling.max(SETTLE_LOOKS);
        }
        if self.settling > 0 {
            self.settling = self.settling.saturating_sub(1);
            self.quiet_c = None;
            return false;
        }
        // A furnace that cools first gets no credit for it.
        let quiet_c = self.quiet_c.map_or(celsius, |quiet| quiet.min(celsius));
        self.quiet_c = Some(quiet_c);
        celsius > quiet_c + UNASKED_RISE_K
    }
}
