//! The watch on the reading against the setpoint of the moment: heat goes on although the reading is
//! above it, or soon will be, by more than the furnace's allowed overshoot.
//!
//! It needs no cause of its own for a wrong table, a wrong gain or a changed bit in either: whatever
//! drives the heater, heat above the setpoint is wrong. Checked once a second.

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use super::second::{Check, Second};
use crate::furnace::{Furnace, Heater};

/// Checks in a row that must find the reading too high: it has been so for 2 s then.
const CHECKS: u8 = 3;

/// Duty above which heat counts. Below it, a control that swings may still have the heater on while the
/// reading comes down.
const DUTY_MIN: f32 = 0.3;

/// Largest excess that is allowed, whatever overshoot the furnace allows (K).
const EXCESS_MAX_K: f32 = 25.0;

/// Share of the allowed excess up to which the reading may be above the setpoint however fast it rises: a
/// healthy control arrives at some speed too, and brakes. On the simulated furnaces it goes at most 7 K
/// above with more duty than [`DUTY_MIN`].
const FREE_SHARE: f32 = 0.5;

/// State of the setpoint watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct SetpointWatch {
    /// Checks in a row that found the reading too high.
    above: u8,
}

impl SetpointWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        second: &Second,
    ) -> Option<Cause> {
        let due = second.is_due(Check::Setpoint);
        if due { self.check(furnace, inputs, second.duty()) } else { None }
    }

    /// The check, once a second. Not inlined, so that the ticks between carry nothing of it.
    #[inline(never)]
    fn check(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        duty: f32,
    ) -> Option<Cause> {
        // A reading that is missing for a moment neither proves nor clears anything.
        if inputs.heats() && inputs.estimate.control.is_err() {
            return None;
        }
        let above = duty > DUTY_MIN && is_above(furnace, inputs, duty);
        self.above = if above { self.above.saturating_add(1) } else { 0 };
        (self.above >= CHECKS).then_some(Cause::AboveSetpoint)
    }
}

/// True if the reading is above the setpoint by more than is allowed, or will be once the heat that the
/// element holds has flowed off.
fn is_above(furnace: &Furnace, inputs: &InterlockInputs<'_>, duty: f32) -> bool {
    let (Some(setpoint), Ok(control)) = (inputs.demand.setpoint, &inputs.estimate.control)
    else {
        return false;
    };
    let celsius = control.celsius.get();
    let excess_k = celsius - setpoint.celsius;
    let allowed_k = furnace.limits.overshoot_max_k.min(EXCESS_MAX_K);
    if excess_k <= FREE_SHARE * allowed_k {
        return false;
    }
    // What counts is how much faster than the setpoint the reading rises.
    let rate = control.rate_k_per_s - setpoint.rate_k_per_s.max(0.0);
    let coast_k = rate * lag_s(&furnace.heater, celsius, duty);
    // Written so that a NaN counts as above.
    !(excess_k + coast_k <= allowed_k && excess_k <= allowed_k)
}

/// Time that the heat in the element takes to flow off (s): what it holds above the reading's
/// temperature, divided by its power. The element is as hot as its radiation must be to carry that power.
fn lag_s(heater: &Heater, celsius: f32, duty: f32) -> f32 {
    let stored = &heater.stored_heat;
    let power_w = duty * heater.rated_w;
    stored.element_j_per_k * (stored.element_c(celsius, power_w) - celsius) / power_w
}
