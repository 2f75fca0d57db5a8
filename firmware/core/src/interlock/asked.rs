//! The watch on the limit channel against everything that was asked for so far in this firing. A control
//! sensor that reads too little has the control heat the chamber above its setpoint; the limit channel shows
//! it, once what it sees of the element is taken off. Checked once a second.
//!
//! All figures are of healthy firings on the simulated furnaces, with views of the element that are up to
//! 30 % off: 288 firings of the twelve schedules of the campaigns.

use serde::Serialize;

use super::counters::ConsecutiveCount;
use super::inputs::InterlockInputs;
use super::view::View;
use crate::estimate::ChannelEstimate;
use crate::furnace::Furnace;

/// Checks in a row that must find the limit channel too high: 3 s. A control sensor that has slipped out
/// drives the heater at full power all that time.
const CHECKS: u16 = 3;

/// A furnace is calm at this reading or above (°C), or after so many checks with a steady setpoint.
const HOT_FROM_C: f32 = 500.0;
const STEADY_CHECKS: u16 = 300;

/// How far the limit channel may be above what was asked and what is explained (K): in a calm furnace, where
/// at most 6 K occur; while the flow of heat is even, at most 11 K; and otherwise, at most 19 K.
const CALM_MAX_K: f32 = 12.0;
const EVEN_MAX_K: f32 = 14.0;
const UNEVEN_MAX_K: f32 = 23.0;

/// How far it may be above the control channel and what is explained (K), where at most 22 K occur; and
/// after the chamber was open, while both sensors warm up, each at its own pace.
const DIFFERENCE_MAX_K: f32 = 30.0;
const DIFFERENCE_RECOVERING_MAX_K: f32 = 45.0;

/// Multiples of the table's difference by which the muffle is colder than the control sensor, which sees
/// the element, too: 1.3 on the simulated furnaces, and less while the sensors lag behind.
const MUFFLE_SHARE: f32 = 0.8;
const MUFFLE_EVEN_SHARE: f32 = 0.5;

/// The flow is even above this share of its mean over [`MEAN_S`] seconds: the sensors lag behind a flow that
/// has just become smaller.
const EVEN_SHARE: f32 = 0.85;
const MEAN_S: f32 = 100.0;

/// Time by which a limit channel that rises faster than the setpoint is extrapolated (s): it lags behind the
/// muffle, and the heat in the element flows on; for less time in a calm furnace, and after the chamber was
/// open. A ramp that becomes steeper has a healthy furnace up to 28 K above, extrapolated, so that this much
/// more is allowed where it is not calm (K).
const LEAD_S: f32 = 40.0;
const CALM_LEAD_S: f32 = 20.0;
const RECOVERING_LEAD_S: f32 = 20.0;
const LEAD_MAX_K: f32 = 13.0;

/// A control channel that is farther above what was asked for than this, or soon will be, is right (K): the
/// other watches judge it.
const DENIED_K: f32 = 10.0;

/// Least power that explains a difference (W).
const HOLD_MIN_W: f32 = 1.0;

/// 0 °C (K).
const KELVIN: f32 = 273.15;

/// What a check judges.
#[derive(Clone, Copy, Debug)]
pub(super) struct AskedCheck<'a> {
    pub(super) control: &'a ChannelEstimate,
    pub(super) limit: &'a ChannelEstimate,
    /// What the muffle is at least (°C), and the flow of heat from the element to it (W).
    pub(super) around_c: f32,
    pub(super) flow_w: f32,
    /// Checks with a steady setpoint, and whether the chamber was open just before.
    pub(super) steady: u16,
    pub(super) recovering: bool,
}

/// State of the watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct AskedWatch {
    /// Highest setpoint of this firing so far, or the reading at its beginning (°C).
    asked_c: Option<f32>,
    view: View,
    /// Mean of the difference that the table explains (K).
    mean_k: f32,
    above: ConsecutiveCount,
}

impl AskedWatch {
    /// What the muffle is at least (°C): the reading, or what was asked for so far if the limit channel
    /// does not deny it. A control channel that reads too little would make the element seem to give more
    /// heat.
    pub(super) fn muffle_at_least_c(&self, control_c: f32, limit: &ChannelEstimate) -> f32 {
        match self.asked_c {
            Some(asked_c) if !limit.is_upper_bound => {
                control_c.max(asked_c.min(limit.celsius.get()))
            }
            Some(_) | None => control_c,
        }
    }

    /// Starts the count again: another watch judges what is wrong.
    pub(super) const fn clear(&mut self) {
        self.above.clear();
    }

    /// True once the limit channel has been too high for long enough.
    pub(super) const fn is_exceeded(&self) -> bool {
        self.above.has_held_for(CHECKS)
    }

    /// One check.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        check: &AskedCheck<'_>,
    ) {
        let before_c = self.asked_c.filter(|_| inputs.demand.firing);
        let control_c = check.control.celsius.get();
        let Some(setpoint) = inputs.demand.setpoint else {
            self.asked_c = before_c;
            self.above.clear();
            return;
        };
        let asked_c = before_c.unwrap_or(control_c).max(setpoint.celsius);
        self.asked_c = Some(asked_c);
        if check.limit.is_upper_bound {
            return;
        }
        let limit_c = check.limit.celsius.get();
        let table_k = explained_k(furnace, check.around_c, check.flow_w).max(0.0);
        let seen_k = self.view.step(table_k, limit_c - control_c);
        self.mean_k += (table_k - self.mean_k) / MEAN_S;
        let calm = control_c >= HOT_FROM_C || check.steady >= STEADY_CHECKS;
        let even = table_k >= EVEN_SHARE * self.mean_k && self.mean_k > 0.0;
        let (lead_s, difference_max_k) = match (check.recovering, calm) {
            (true, _) => (RECOVERING_LEAD_S, DIFFERENCE_RECOVERING_MAX_K),
            (false, true) => (CALM_LEAD_S, DIFFERENCE_MAX_K),
            (false, false) => (LEAD_S, DIFFERENCE_MAX_K),
        };
        let lead_k = |channel: &ChannelEstimate| {
            lead_s * (channel.rate_k_per_s - setpoint.rate_k_per_s.max(0.0)).max(0.0)
        };
        let (muffle_c, limit_lead_k) = (limit_c - seen_k, lead_k(check.limit));
        let above_k = muffle_c - asked_c;
        // Written so that a NaN counts as above.
        let is_below = if calm {
            above_k + limit_lead_k - MUFFLE_SHARE * table_k <= CALM_MAX_K
        } else {
            let lead_k = (limit_lead_k - LEAD_MAX_K).max(0.0);
            above_k + lead_k - MUFFLE_SHARE * table_k <= UNEVEN_MAX_K
        };
        let is_even_below = !even || above_k - MUFFLE_EVEN_SHARE * table_k <= EVEN_MAX_K;
        let is_near = muffle_c - control_c <= difference_max_k;
        let denied = control_c + lead_k(check.control) < asked_c + DENIED_K;
        self.above.update(denied && !(is_below && is_even_below && is_near));
    }
}

/// How far the limit channel is above the control channel by this flow of heat from the element (K). The
/// table says how far at the power that holds a temperature. Below its first temperature that needs power, a
/// tip in a cooler muffle is farther above it by the same flow: by the cube of the temperatures' ratio if
/// it gave off its heat by radiation alone, by less as the gas takes a part of it (the square fits the
/// simulated furnaces).
pub(super) fn explained_k(furnace: &Furnace, celsius: f32, flow_w: f32) -> f32 {
    let heater = &furnace.heater;
    let first = heater.feed_forward.iter().find(|point| point.hold_w >= HOLD_MIN_W);
    match first.filter(|first| celsius < first.at.get()) {
        Some(first) => {
            let ratio = (first.at.get() + KELVIN) / (celsius.max(0.0) + KELVIN);
            first.limit_above_control_k * (flow_w / first.hold_w) * ratio * ratio
        }
        None => {
            let point = heater.feed_forward_at(celsius);
            point.limit_above_control_k * (flow_w / point.hold_w.max(HOLD_MIN_W))
        }
    }
}
