//! The watch on the two channels against each other: their difference, frozen codes, their terminals.

use serde::Serialize;

use super::asked::{AskedCheck, AskedWatch, explained_k};
use super::cause::Cause;
use super::counters::ConsecutiveCount;
use super::element::Element;
use super::frozen::CodeWatch;
use super::inputs::InterlockInputs;
use super::second::{Check, Second};
use crate::demand::Setpoint;
use crate::estimate::{Channel, Estimate};
use crate::furnace::Furnace;
use crate::io::Inputs;

/// Checks in a row for which the channels or their terminals may disagree: 10 s.
const DISAGREE_CHECKS: u16 = 10;

/// Checks in a row for which the difference may be unexpected: 5 s. A control sensor that reads too little
/// drives the heater all that time.
const DIFFERENCE_CHECKS: u16 = 5;

/// Checks after the chamber was open in which the difference is not judged: both sensors warm up again,
/// each at its own pace.
const RECOVER_CHECKS: u16 = 300;

/// Reading from which the difference is judged at any time (°C). Below it the element is so much hotter than
/// the muffle on a ramp that a sensor which sees a little more of it differs by tens of kelvin.
const JUDGED_FROM_C: f32 = 500.0;

/// Reading from which it is judged in a soak (°C), once the setpoint has been steady for as many checks.
/// Below it the sensors exchange more heat with the gas than with the element.
const SETTLED_FROM_C: f32 = 100.0;
const SETTLED_CHECKS: u16 = 900;

/// Allowed difference of the terminals (thousandths of K).
pub(crate) const TERMINALS_MAX_MK: u32 = 10_000;

/// State of the channel watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ChannelWatch {
    element: Element,
    asked: AskedWatch,
    /// Checks left after the chamber was open.
    recovering: u16,
    /// Checks with a steady setpoint.
    steady: u16,
    disagree: ConsecutiveCount,
    difference: ConsecutiveCount,
    terminals: ConsecutiveCount,
    control: CodeWatch,
    limit: CodeWatch,
    /// The channel that the last check found frozen.
    frozen: Option<Channel>,
}

impl ChannelWatch {
    /// Updates the watch with one tick and returns the cause that a check of this tick found.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        second: &Second,
    ) -> Option<Cause> {
        self.control.update(inputs.raw.control.as_ref());
        self.limit.update(inputs.raw.limit.as_ref());
        let due = second.is_due(Check::Temperatures);
        if due { self.check(furnace, inputs, second.duty()) } else { None }
    }

    /// The channel that repeats one code.
    pub(super) const fn frozen(&self) -> Option<Channel> {
        self.frozen
    }

    /// True while a channel that was found frozen has not moved since.
    pub(super) const fn stands_still(&self) -> bool {
        self.control.stands_still() || self.limit.stands_still()
    }

    /// The checks, once a second. Not inlined, so that the ticks between carry nothing of them.
    #[inline(never)]
    fn check(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
        duty: f32,
    ) -> Option<Cause> {
        let Estimate { control, limit } = inputs.estimate;
        if control.is_ok() && limit.is_ok() {
            // Without one of the channels nothing proves or clears a disagreement.
            self.disagree.update(!inputs.estimate.agrees(furnace.limits.disagree_max_k));
        }
        if inputs.raw.control.is_some() && inputs.raw.limit.is_some() {
            self.terminals.update(!terminals_agree(inputs.raw));
        }
        self.check_codes(inputs);
        self.check_difference(furnace, inputs, duty);
        if self.terminals.has_held_for(DISAGREE_CHECKS) {
            // First, because a wrong terminal makes the readings differ as well.
            Some(Cause::TerminalsDisagree)
        } else if self.frozen.is_some() {
            Some(Cause::SensorFrozen)
        } else if self.disagree.has_held_for(DISAGREE_CHECKS)
            || self.difference.has_held_for(DIFFERENCE_CHECKS)
            || self.asked.is_exceeded()
        {
            Some(Cause::ChannelsDisagree)
        } else {
            None
        }
    }

    fn check_difference(&mut self, furnace: &Furnace, inputs: &InterlockInputs<'_>, duty: f32) {
        self.recovering =
            if inputs.shut { self.recovering.saturating_sub(1) } else { RECOVER_CHECKS };
        let steady = inputs.demand.setpoint.is_some_and(Setpoint::is_steady);
        self.steady = if steady { self.steady.saturating_add(1) } else { 0 };
        let (Ok(control), Ok(limit)) = (&inputs.estimate.control, &inputs.estimate.limit)
        else {
            return;
        };
        let control_c = control.celsius.get();
        let around_c = self.asked.muffle_at_least_c(control_c, limit);
        let first_w = || {
            let seen_k = match limit.is_upper_bound {
                true => 0.0,
                false => limit.celsius.get() - control_c,
            };
            (seen_k / explained_k(furnace, around_c, 1.0)).max(0.0).min(furnace.heater.rated_w)
        };
        let flow_w = self.element.step(&furnace.heater, duty, around_c, first_w);
        let (steady, recovering) = (self.steady, self.recovering > 0);
        let check = AskedCheck { control, limit, around_c, flow_w, steady, recovering };
        self.asked.update(furnace, inputs, &check);
        if !terminals_agree(inputs.raw) {
            // A wrong terminal makes its channel wrong as well, and has a cause of its own.
            self.asked.clear();
        }
        if limit.is_upper_bound || control.is_upper_bound {
            return;
        }
        let settled = self.steady >= SETTLED_CHECKS && control_c >= SETTLED_FROM_C;
        let judged = self.recovering == 0 && (settled || control_c >= JUDGED_FROM_C);
        let heating = inputs.heats() && judged;
        // Without a command in this second, the heater's own watches judge a rise.
        if heating && duty > 0.0 {
            let difference_k = limit.celsius.get() - control_c;
            let expected = !differs(furnace, control_c, flow_w, difference_k);
            self.difference.update(!expected);
        } else if !heating {
            self.difference = ConsecutiveCount::default();
        }
    }

    fn check_codes(&mut self, inputs: &InterlockInputs<'_>) {
        let Estimate { control, limit } = inputs.estimate;
        let control_c = control.ok().map(|channel| channel.celsius.get());
        let limit_c = limit.ok().filter(|channel| !channel.is_upper_bound);
        let limit_c = limit_c.map(|channel| channel.celsius.get());
        let setpoint_c = inputs.demand.setpoint.map(|setpoint| setpoint.celsius);
        self.control.check(limit_c, setpoint_c);
        self.limit.check(control_c, setpoint_c);
        let heats = inputs.heats();
        let both = heats && self.control.may_be_frozen() && self.limit.may_be_frozen();
        let is_frozen = |watch: &CodeWatch, other_c| {
            both || watch.is_frozen(other_c, setpoint_c) || (heats && watch.is_frozen_steady())
        };
        self.frozen = if control_c.is_some() && is_frozen(&self.control, limit_c) {
            Some(Channel::Control)
        } else if limit_c.is_some() && is_frozen(&self.limit, control_c) {
            Some(Channel::Limit)
        } else {
            None
        };
    }
}

/// True if the difference of the channels is not the one that the heat flow explains. The limit channel
/// sees more of the element, so it reads higher in proportion to the flow. The settled difference of
/// the furnace's table belongs to the power that holds the temperature. What a ramp adds to it is an
/// estimate, which may be wrong by as much as it is.
fn differs(furnace: &Furnace, celsius: f32, flow_w: f32, difference_k: f32) -> bool {
    let settled_k = furnace.heater.feed_forward_at(celsius).limit_above_control_k;
    let expected_k = explained_k(furnace, celsius, flow_w);
    let allowed_k = furnace.limits.settled_difference_max_k + (expected_k - settled_k).abs();
    // Written so that a NaN counts as a difference.
    !((difference_k - expected_k).abs() <= allowed_k)
}

/// True if the terminals of both channels are as warm as each other. A channel without a sample is
/// judged by its own causes.
pub(crate) fn terminals_agree(inputs: &Inputs) -> bool {
    match (&inputs.control, &inputs.limit) {
        (Some(control), Some(limit)) => {
            control.cold_junction_mc.abs_diff(limit.cold_junction_mc) <= TERMINALS_MAX_MK
        }
        (None, _) | (_, None) => true,
    }
}
