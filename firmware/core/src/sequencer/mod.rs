//! Tracks the position in the programme and derives the demand of each tick.
//!
//! What a step has to remember lives in `ActiveFiring` and is dropped with it. The sequencer gets
//! a trip as an input and never causes one: it reports an overdue vacuum stage, and the interlock
//! decides.

mod cooling;
mod firing;
mod interface;
mod pump_down;
mod ramp;
mod seal;
mod self_test;
#[cfg(test)]
mod tests;

use serde::Serialize;

use crate::programme::ProgrammeImage;

pub use crate::demand::Setpoint;
#[cfg(feature = "restore")]
pub use firing::FiringMemory;
use firing::{ActiveFiring, TickOutcome};
pub use interface::{Demand, Ending, ResumePoint, SequencerInputs, SequencerLimits, Wait};
pub use ramp::Ramp;

/// State of the sequencer.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub enum SequencerState {
    /// No firing since the programme was loaded.
    #[default]
    Idle,
    /// A firing is running.
    Running(ActiveFiring),
    /// The last firing ended.
    Ended(Ending),
}

/// The sequencer.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct Sequencer {
    state: SequencerState,
    /// Commanded position of the lift or door. It does not change when a firing ends, so that
    /// nothing moves while a person reaches for the ware.
    open: bool,
}

impl Sequencer {
    /// The state.
    pub const fn state(&self) -> &SequencerState {
        &self.state
    }

    /// True while the setpoint and the commands of a firing are what the last tick left.
    pub(crate) fn setpoint_is_intact(&self) -> bool {
        match &self.state {
            SequencerState::Running(firing) => firing.setpoint_is_intact(),
            SequencerState::Idle | SequencerState::Ended(_) => true,
        }
    }

    /// True while the current step is the one that was entered.
    pub(crate) fn step_is_intact(&self) -> bool {
        match &self.state {
            SequencerState::Running(firing) => firing.step_is_intact(),
            SequencerState::Idle | SequencerState::Ended(_) => true,
        }
    }

    /// Takes back the command to open the lift or door that the last tick gave.
    pub(crate) fn keep_shut(&mut self) {
        self.open = false;
        if let SequencerState::Running(firing) = &mut self.state {
            firing.keep_shut();
        }
    }

    /// Processes one tick and returns its demand.
    pub fn advance(
        &mut self,
        programme: Option<&ProgrammeImage>,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> Demand {
        if matches!(self.state, SequencerState::Idle) {
            // Not commanded anywhere yet: adopt the position in which it was found.
            self.open = inputs.open || (self.open && !inputs.shut);
        }
        match (&self.state, programme) {
            (SequencerState::Running(_), Some(programme)) => {
                self.continue_firing(programme, limits, inputs)
            }
            (SequencerState::Running(_), None) => self.end(Ending::Stopped),
            (SequencerState::Idle | SequencerState::Ended(_), Some(programme))
                if inputs.start_pressed =>
            {
                self.start(programme, limits, inputs)
            }
            (SequencerState::Idle | SequencerState::Ended(_), _) => self.idle_demand(),
        }
    }

    fn continue_firing(
        &mut self,
        programme: &ProgrammeImage,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> Demand {
        let SequencerState::Running(firing) = &mut self.state else {
            return self.idle_demand();
        };
        match firing.advance(programme, limits, inputs) {
            TickOutcome::Continue(demand) => {
                self.open = demand.open_closure;
                demand
            }
            TickOutcome::Ended(ending) => self.end(ending),
        }
    }

    /// Drops the last firing, for a newly loaded programme.
    pub fn reset(&mut self) {
        self.state = SequencerState::Idle;
    }

    /// Completes a restore from a snapshot: reads the current step from the programme. Returns false
    /// if the programme has no such step.
    #[cfg(feature = "restore")]
    pub(crate) fn reload_step(&mut self, programme: Option<&ProgrammeImage>) -> bool {
        match &mut self.state {
            SequencerState::Idle | SequencerState::Ended(_) => true,
            SequencerState::Running(firing) => {
                programme.is_some_and(|programme| firing.reload_step(programme))
            }
        }
    }

    /// Changes what a running firing keeps, for tests of the seals only.
    #[cfg(feature = "restore")]
    pub(crate) fn corrupt_firing(&mut self, change: impl FnOnce(FiringMemory<'_>)) {
        if let SequencerState::Running(firing) = &mut self.state {
            change(firing.memory());
        }
    }

    /// Starts a firing, or goes on with one, unless a trip is latched or the control channel has no
    /// reading.
    fn start(
        &mut self,
        programme: &ProgrammeImage,
        limits: &SequencerLimits,
        inputs: &SequencerInputs,
    ) -> Demand {
        if inputs.trip.is_some() || inputs.reading_c.is_none() {
            return self.idle_demand();
        }
        let firing = match inputs.resume {
            None => ActiveFiring::begin(programme, inputs, self.open),
            Some(point) => ActiveFiring::resume(programme, inputs, self.open, point),
        };
        match firing {
            Some(firing) => {
                self.state = SequencerState::Running(firing);
                self.continue_firing(programme, limits, inputs)
            }
            None => self.idle_demand(),
        }
    }

    /// The only way out of a firing.
    fn end(&mut self, ending: Ending) -> Demand {
        self.state = SequencerState::Ended(ending);
        self.idle_demand()
    }

    /// Without a firing nothing is demanded, and the closure stays where it is.
    fn idle_demand(&self) -> Demand {
        Demand { open_closure: self.open, ..Demand::default() }
    }
}
