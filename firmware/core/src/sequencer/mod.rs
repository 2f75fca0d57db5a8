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

use crate::programme::Image;

pub use ramp::Setpoint;
use run::{Progress, Run};
pub use terms::{Ending, Now, Plan, Rules};

/// Where the firing is.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub enum State {
    /// No firing since the programme was loaded.
    #[default]
    Idle,
    /// A firing is running.
    Running(Run),
    /// The firing is over.
    Ended(Ending),
}

/// Memory of the sequencer.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Sequencer {
    state: State,
    /// Where the lift or door was sent last. It stays there when a firing ends: nothing moves
    /// under the hands of whoever reaches for the ware.
    open: bool,
}

impl Sequencer {
    /// Where the firing is.
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// Takes one tick: moves on in the programme if it is time, and says what to ask for.
    pub fn advance(&mut self, programme: Option<&Image>, rules: &Rules, now: &Now) -> Plan {
        if matches!(self.state, State::Idle) {
            // Nobody has sent it anywhere yet: where it is, is where it stays.
            self.open = now.open || (self.open && !now.shut);
        }
        match (&self.state, programme) {
            (State::Running(_), Some(programme)) => self.go_on(programme, rules, now),
            (State::Running(_), None) => self.end(Ending::Stopped),
            (State::Idle | State::Ended(_), Some(programme)) if now.start => {
                self.start(programme, rules, now)
            }
            (State::Idle | State::Ended(_), _) => self.rest(),
        }
    }

    /// One tick of a firing that runs.
    fn go_on(&mut self, programme: &Image, rules: &Rules, now: &Now) -> Plan {
        let State::Running(run) = &mut self.state else { return self.rest() };
        match run.advance(programme, rules, now) {
            Progress::Going(plan) => {
                self.open = plan.open;
                plan
            }
            Progress::Over(ending) => self.end(ending),
        }
    }

    /// Forgets a finished firing, so that a new programme can be started.
    pub fn reset(&mut self) {
        self.state = State::Idle;
    }

    /// After a snapshot: reads the step at hand from the programme; false if it is not there.
    #[cfg(feature = "desk")]
    pub(crate) fn recall(&mut self, programme: Option<&Image>) -> bool {
        match &mut self.state {
            State::Idle | State::Ended(_) => true,
            State::Running(run) => programme.is_some_and(|programme| run.recall(programme)),
        }
    }

    fn start(&mut self, programme: &Image, rules: &Rules, now: &Now) -> Plan {
        if now.tripped.is_some() || now.reading_c.is_none() {
            return self.rest();
        }
        match Run::begin(programme, now, self.open) {
            Some(run) => {
                self.state = State::Running(run);
                self.go_on(programme, rules, &Now { start: false, ..*now })
            }
            None => self.rest(),
        }
    }

    /// The one gate out of a firing.
    fn end(&mut self, ending: Ending) -> Plan {
        self.state = State::Ended(ending);
        self.rest()
    }

    /// What a furnace without a firing does: nothing, where it stands.
    fn rest(&self) -> Plan {
        Plan { open: self.open, ..Plan::default() }
    }
}
