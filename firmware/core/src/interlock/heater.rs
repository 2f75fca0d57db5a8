//! The heater monitor: detects a command without a temperature rise, and a rise without a command. A rise
//! without a current, or without a current sensor one that the limit channel does not share, is not the
//! heater's: the control sensor lags behind the furnace.
//!
//! Temperatures are checked once a second. The expected rise comes from the furnace's feed-forward
//! table, lagged like a cold furnace, over windows of a minute, and only near full power: at part
//! load an error of a fifth in the table would look like a fault. A heater that fails during a hot
//! soak is driven to full power by the control loop and found then; one that fails in a low soak, by
//! [`NoRiseWatch`].

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use super::no_rise::NoRiseWatch;
use super::second::{Check, SECOND_TICKS, Second};
use crate::TICK_S;
use crate::furnace::Furnace;

/// Length of a window (checks, so seconds).
const WINDOW_CHECKS: u8 = 60;

/// Time constant from element to reading in the expected rise (s).
const LAG_S: f32 = 40.0;

/// Duty that counts as near full power.
const FULL_DUTY: f32 = 0.8;

/// Factor on the holding power of the table, for insulation that is still warming up.
const HOLD_MARGIN: f32 = 1.25;

/// Minimum expected rise for a window to be meaningful (K).
const RISE_MIN_K: f32 = 15.0;

/// Share of the expected rise that must be measured.
const SHARE_MIN: f32 = 0.25;

/// Settling time after the last heat (checks): the element is still hotter than the sensor.
const SETTLE_CHECKS: u16 = 20;

/// Settling time after the chamber was open (checks): the muffle warms what was put in.
const RECOVER_CHECKS: u16 = 600;

/// Rise after the settling time that only a heater can cause (K).
const UNCOMMANDED_RISE_K: f32 = 25.0;

/// Rise of the limit channel over the same time from which the chamber has risen as well (K): half.
const SHARED_RISE_K: f32 = 0.5 * UNCOMMANDED_RISE_K;

/// State of the heater monitor.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct HeaterMonitor {
    expected_k_per_s: f32,
    window: Option<EffectWindow>,
    no_rise: NoRiseWatch,
    /// Checks left of the settling time.
    settling: u16,
    /// Minimum reading since the settling time ended.
    settled_min: Option<Settled>,
    /// The last check found a rise without a command, with this cause.
    uncommanded_rise: Option<Cause>,
}

/// The channels at the minimum reading since the settling time ended.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct Settled {
    control_c: f32,
    /// `None` while the limit channel gives no reading.
    limit_c: Option<f32>,
}

/// A window in which the measured rise is compared with the expected one.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct EffectWindow {
    checks: u8,
    start_c: f32,
    expected_k: f32,
}

/// A rise of the reading without a command.
#[derive(Clone, Copy, Debug)]
struct Rise {
    from: Settled,
    to: Settled,
}

impl HeaterMonitor {
    /// Updates the monitor with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        second: &Second,
    ) -> Option<Cause> {
        let due = second.is_due(Check::Temperatures);
        let effect = if due { self.check(furnace, inputs, second.duty()) } else { None };
        self.uncommanded_rise.or(effect)
    }

    /// The temperature checks, once a second.
    fn check(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        duty: f32,
    ) -> Option<Cause> {
        // A reading that is missing for a moment does not end a window.
        let Ok(control) = &inputs.estimate.control else { return None };
        let celsius = control.celsius.get();
        let without_effect = self.is_without_effect(furnace, duty, celsius)
            | self.no_rise.check(furnace, inputs, duty, celsius);
        let limit_c = inputs.estimate.limit.ok().filter(|limit| !limit.is_upper_bound);
        let now =
            Settled { control_c: celsius, limit_c: limit_c.map(|limit| limit.celsius.get()) };
        let rise = self.rises_uncommanded(duty, now, inputs.shut);
        self.uncommanded_rise = rise.map(|rise| cause_of_rise(furnace, inputs, rise));
        without_effect.then_some(Cause::HeaterWithoutEffect)
    }

    /// True at the end of a window in which the reading rose too little.
    fn is_without_effect(&mut self, furnace: &Furnace, duty: f32, celsius: f32) -> bool {
        if duty < FULL_DUTY {
            self.window = None;
            self.expected_k_per_s = 0.0;
            return false;
        }
        let check_s = f32::from(SECOND_TICKS) * TICK_S;
        let need = furnace.heater.feed_forward_at(celsius);
        let surplus_w = duty * furnace.heater.rated_w - HOLD_MARGIN * need.hold_w;
        let rate = surplus_w / need.heat_capacity_j_per_k.max(1.0);
        self.expected_k_per_s += (rate - self.expected_k_per_s) * (check_s / LAG_S);
        let mut window = self.window.unwrap_or(EffectWindow {
            checks: 0,
            start_c: celsius,
            expected_k: 0.0,
        });
        window.checks = window.checks.saturating_add(1);
        window.expected_k += self.expected_k_per_s * check_s;
        if window.checks < WINDOW_CHECKS {
            self.window = Some(window);
            return false;
        }
        self.window = None;
        let rise_k = celsius - window.start_c;
        // Written so that an expectation that is NaN counts as missed.
        !(window.expected_k <= RISE_MIN_K) && !(rise_k > SHARE_MIN * window.expected_k)
    }

    /// The rise of the reading after the settling time, if it is one that only a heater can cause.
    fn rises_uncommanded(&mut self, duty: f32, now: Settled, shut: bool) -> Option<Rise> {
        if !shut {
            self.settling = RECOVER_CHECKS;
        } else if duty > 0.0 {
            self.settling = self.settling.max(SETTLE_CHECKS);
        }
        if self.settling > 0 {
            self.settling = self.settling.saturating_sub(1);
            self.settled_min = None;
            return None;
        }
        // From the minimum, so that a furnace that cools first has no larger allowance.
        let min = self.settled_min.filter(|min| min.control_c <= now.control_c).unwrap_or(now);
        self.settled_min = Some(min);
        (now.control_c > min.control_c + UNCOMMANDED_RISE_K)
            .then_some(Rise { from: min, to: now })
    }
}

/// Why the reading rises without a command. Where the current is measured, it decides. Elsewhere the limit
/// channel does: if it does not rise as well, the chamber does not, and the control sensor only follows
/// what happened before.
fn cause_of_rise(furnace: &Furnace, inputs: &InterlockInputs<'_>, rise: Rise) -> Cause {
    let shared = match (rise.from.limit_c, rise.to.limit_c) {
        (Some(before), Some(after)) => !(after - before < SHARED_RISE_K),
        (None, _) | (_, None) => true,
    };
    let heated = match inputs.raw.heater_current_ma {
        Some(_) => super::current::conducts(furnace, inputs),
        None => shared,
    };
    if heated { Cause::HeaterStuckOn } else { Cause::SensorLagging }
}
