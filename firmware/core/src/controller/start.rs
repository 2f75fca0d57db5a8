//! Whether a press of start may begin a firing.

use serde::{Deserialize, Serialize};

use super::{Bookmark, Controller};
use crate::estimate::Estimate;
use crate::events::EventKind;
use crate::interlock::{Cause, terminals_agree};
use crate::io::Inputs;
use crate::units::Instant;

/// Why a press of start begins nothing. A link carries the variant's number, so add new variants at the
/// end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StartError {
    /// No programme is loaded.
    NoProgramme,
    /// The control channel gives no reading that can be believed.
    NoReading,
    /// This trip is latched.
    Tripped(Cause),
    /// The furnace is too hot for a programme that begins with heat.
    TooHot,
    /// Both channels read a cold furnace, and differ.
    ChannelsDifferCold,
    /// The terminals of the two channels differ.
    TerminalsDiffer,
    /// The contact that proves the chamber shut has not been seen open since the last firing: look
    /// whether it is shut, and press confirm.
    ContactUnproven,
    /// The gauge does not read air.
    NoAirInChamber,
    /// The furnace's data or the programme in memory differ from those that were loaded.
    DataChanged,
    /// The reading has fallen far since the power cut: press start again to go on.
    AskTwice,
    /// The programme does not let a firing go on that a power cut interrupted in this step: press stop or
    /// confirm to clear it.
    FiringOver,
}

impl Controller {
    /// Takes a press of start: whether it begins anything, and the interrupted firing that it goes on
    /// with. `counts` is false if the press cannot begin anything anyway.
    pub(super) fn take_start(
        &mut self,
        inputs: &Inputs,
        estimate: &Estimate,
        counts: bool,
    ) -> (bool, Option<Bookmark>) {
        self.previous.start_error = self.start_error(inputs, estimate);
        // Only if nothing else is in the way, because it is the most work.
        if self.previous.start_error.is_none() && !self.check_all_data() {
            self.previous.start_error = Some(StartError::DataChanged);
        }
        self.remember_question();
        // A stop button that is stuck down must not cost the interrupted firing.
        let stopped = inputs.buttons.stop && self.recovery.interrupted().is_some();
        if !counts || stopped || self.previous.start_error.is_some() {
            return (false, None);
        }
        let resumed = self.recovery.take();
        if resumed.is_some_and(|bookmark| bookmark.has(Bookmark::CONTACT_SEEN_OPEN)) {
            self.previous.contact.prove();
        }
        (true, resumed)
    }

    /// Why a press of start in this tick begins nothing; `None` if it begins a firing or goes on with an
    /// interrupted one.
    fn start_error(&self, inputs: &Inputs, estimate: &Estimate) -> Option<StartError> {
        let Some(loaded) = &self.programme else { return Some(StartError::NoProgramme) };
        if let Some(cause) = self.interlock.trip() {
            return Some(StartError::Tripped(cause));
        }
        let Ok(control) = &estimate.control else { return Some(StartError::NoReading) };
        // Going on is the same firing: the furnace may be hot and under vacuum.
        if let Some(bookmark) = self.recovery.interrupted() {
            return self.resume_error(&bookmark, control.celsius.get());
        }
        let heats_first = loaded.image.step_at(0).is_some_and(|(step, _)| step.action.heats());
        let celsius = control.celsius.get();
        if heats_first && !(celsius < self.furnace.limits.start_below.get()) {
            return Some(StartError::TooHot);
        }
        if !terminals_agree(inputs) {
            return Some(StartError::TerminalsDiffer);
        }
        if differ_cold(estimate) {
            return Some(StartError::ChannelsDifferCold);
        }
        if !self.is_full_of_air(inputs) {
            return Some(StartError::NoAirInChamber);
        }
        // The last: it is a question, and is put only if its answer is all that is missing.
        (!self.previous.contact.is_proven()).then_some(StartError::ContactUnproven)
    }

    /// The answer to [`StartError::ContactUnproven`]: a person has looked whether the chamber is shut.
    /// Counts once, and only after the question. Returns whether it counted.
    pub(super) fn answer_contact_question(&mut self, now: Instant) -> bool {
        let asked = self.previous.start_error == Some(StartError::ContactUnproven);
        if !asked || self.is_firing() || self.interlock.trip().is_some() {
            return false;
        }
        self.previous.start_error = None;
        self.previous.contact.prove();
        self.events.push(now, EventKind::ContactChecked);
        true
    }
}

/// Reading below which a furnace counts as cold (°C): whatever it was used for, both sensors are then near
/// the ambient.
const COLD_C: f32 = 60.0;

/// Allowed difference of two sensors in a cold furnace (K).
const COLD_DIFFERENCE_MAX_K: f32 = 10.0;

/// True if both channels read a cold furnace and differ.
fn differ_cold(estimate: &Estimate) -> bool {
    let (Ok(control), Ok(limit)) = (&estimate.control, &estimate.limit) else { return false };
    let (control_c, limit_c) = (control.celsius.get(), limit.celsius.get());
    let bounds_only = control.is_upper_bound || limit.is_upper_bound;
    !bounds_only
        && control_c < COLD_C
        && limit_c < COLD_C
        // Written so that a NaN counts as a difference.
        && !((control_c - limit_c).abs() <= COLD_DIFFERENCE_MAX_K)
}

#[cfg(test)]
mod tests {
    use super::{COLD_C, differ_cold};
    use crate::estimate::{ChannelEstimate, Estimate};
    use crate::units::Celsius;

    fn channel(celsius: f32, is_upper_bound: bool) -> ChannelEstimate {
        let celsius = Celsius::new(celsius).unwrap_or(Celsius::from_milli(0));
        ChannelEstimate { celsius, rate_k_per_s: 0.0, worst_case: celsius, is_upper_bound }
    }

    /// Both must read a cold furnace, and neither may be a bound, which says nothing.
    #[test]
    fn only_two_cold_readings_differ_cold() {
        let differ =
            |control, limit| differ_cold(&Estimate { control: Ok(control), limit: Ok(limit) });
        assert!(differ(channel(20.0, false), channel(31.0, false)));
        assert!(differ(channel(59.9, false), channel(49.0, false)));
        assert!(!differ(channel(20.0, false), channel(30.0, false)));
        assert!(!differ(channel(COLD_C, false), channel(49.0, false)));
        assert!(!differ(channel(49.0, false), channel(COLD_C, false)));
        assert!(!differ(channel(20.0, true), channel(31.0, false)));
        assert!(!differ(channel(20.0, false), channel(31.0, true)));
    }
}
