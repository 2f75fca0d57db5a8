//! Station 4: where in the programme the firing is, and what it asks for now.
//!
//! A state owns its data: what a step has to remember lives in [`Run`] and dies with it. The
//! sequencer learns of a trip as data and never causes one; it reports a vacuum stage that is
//! overdue and leaves the judgement to the interlock.

mod ramp;
mod run;
mod terms;
mod vacuum_stage;

use serde::Serialize;

use crate::programme::ProgrammeImage;

pub use ramp::Setpoint;
use run::{ActiveFiring, TickOutcome};
pub use terms::{Demand, Ending, SequencerInputs, SequencerLimits};

/// Where the firing is.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub enum SequencerState {
    /// No firing since the programme was loaded.
    #[default]
    Idle,
    /// A firing is running.
    Running(ActiveFiring),
    /// The firing is over.
    Ended(Ending),
}

/// Memory of the sequencer.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Sequencer {
    state: SequencerState,
    /// Where the lift or door was sent last. It stays there when a firing ends: nothing moves
    /// under the hands of whoever reaches for the ware.
    open: bool,
}

impl Sequencer {
    /// Where the firing is.
    pub const fn state(&self) -> &SequencerState {
        &self.state
    }

    /// Takes one tick: moves on in the programme if it is time, and says what to ask for.
    pub fn advance(
        &mut self,
        programme: Option<&ProgrammeImage>,
        rules: &SequencerLimits,
        now: &SequencerInputs,
    ) -> Demand {
        if matches!(self.state, SequencerState::Idle) {
            // Nobody has sent it anywhere yet: where it is, is where it stays.
            self.open = now.open || (self.open && !now.shut);
        }
        match (&self.state, programme) {
            (SequencerState::Running(_), Some(programme)) => self.go_on(programme, rules, now),
            (SequencerState::Running(_), None) => self.end(Ending::Stopped),
            (SequencerState::Idle | SequencerState::Ended(_), Some(programme))
                if now.start_pressed =>
            {
                self.start(programme, rules, now)
            }
            (SequencerState::Idle | SequencerState::Ended(_), _) => self.rest(),
        }
    }

    /// One tick of a firing that runs.
    fn go_on(
        &mut self,
        programme: &ProgrammeImage,
        rules: &SequencerLimits,
        now: &SequencerInputs,
    ) -> Demand {
        let SequencerState::Running(run) = &mut self.state else { return self.rest() };
        match run.advance(programme, rules, now) {
            TickOutcome::Going(plan) => {
                self.open = plan.open_closure;
                plan
            }
            TickOutcome::Over(ending) => self.end(ending),
        }
    }

    /// Forgets a finished firing, so that a new programme can be started.
    pub fn reset(&mut self) {
        self.state = SequencerState::Idle;
    }

    /// After a snapshot: reads the step at hand from the programme; false if it is not there.
    #[cfg(feature = "desk")]
    pub(crate) fn recall(&mut self, programme: Option<&ProgrammeImage>) -> bool {
        match &mut self.state {
            SequencerState::Idle | SequencerState::Ended(_) => true,
            SequencerState::Running(run) => {
                programme.is_some_and(|programme| run.recall(programme))
            }
        }
    }

    fn start(
        &mut self,
        programme: &ProgrammeImage,
        rules: &SequencerLimits,
        now: &SequencerInputs,
    ) -> Demand {
        if now.trip.is_some() || now.reading_c.is_none() {
            return self.rest();
        }
        match ActiveFiring::begin(programme, now, self.open) {
            Some(run) => {
                self.state = SequencerState::Running(run);
                self.go_on(programme, rules, &SequencerInputs { start_pressed: false, ..*now })
            }
            None => self.rest(),
        }
    }

    /// The one gate out of a firing.
    fn end(&mut self, ending: Ending) -> Demand {
        self.state = SequencerState::Ended(ending);
        self.rest()
    }

    /// What a furnace without a firing does: nothing, where it stands.
    fn rest(&self) -> Demand {
        Demand { open_closure: self.open, ..Demand::default() }
    }
}
