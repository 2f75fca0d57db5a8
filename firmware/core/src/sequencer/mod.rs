//! Station 4: where in the programme the firing is, and what it asks for now.
//!
//! A state owns its data: what a step has to remember lives in [`Run`] and dies with it. The
//! sequencer learns of a trip as data and never causes one; it reports a vacuum stage that is
//! overdue and leaves the judgement to the interlock.

mod ramp;
mod run;
mod vacuum_stage;

use serde::{Deserialize, Serialize};

use crate::interlock::Cause;
use crate::programme::Image;
use crate::units::Instant;

pub use ramp::Setpoint;
use run::{Progress, Run};

/// How a firing ended. Links and logs carry the number of a variant: new ones are added at the
/// end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ending {
    /// Every step was run.
    Completed,
    /// The operator pressed stop.
    Stopped,
    /// The interlock took the heat away.
    Tripped(Cause),
    /// Nobody answered an operator hold whose silence ends the firing.
    Unanswered,
    /// A soak lost its band for longer than its patience.
    BandLost,
    /// The lift or door did not get where it was asked to go.
    ClosureStuck,
    /// The firing took longer than the furnace allows.
    TooLong,
}

/// What the sequencer asks for in one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Plan {
    /// A firing is running.
    pub firing: bool,
    /// The setpoint to follow; `None` asks for no heat.
    pub setpoint: Option<Setpoint>,
    /// The pressure to reach and keep (Pa); `None` is atmosphere.
    pub vacuum_pa: Option<u32>,
    /// The vacuum stage has used up its time.
    pub vacuum_overdue: bool,
    /// Lift or door open.
    pub open: bool,
    /// The operator is wanted.
    pub ask: bool,
}

/// What the sequencer is told in one tick.
#[derive(Clone, Copy, Debug)]
pub struct Now {
    /// The time.
    pub at: Instant,
    /// Reading of the control channel (°C), if it is believed.
    pub reading_c: Option<f32>,
    /// Chamber pressure (Pa), if there is a gauge and it answered.
    pub pressure_pa: Option<u32>,
    /// Contacts prove the chamber shut.
    pub shut: bool,
    /// Contacts prove it open.
    pub open: bool,
    /// The interlock has tripped.
    pub tripped: Option<Cause>,
    /// The operator pressed start.
    pub start: bool,
    /// The operator pressed stop.
    pub stop: bool,
    /// The operator pressed confirm.
    pub confirm: bool,
}

/// What the sequencer must know of the furnace.
#[derive(Clone, Copy, Debug)]
pub struct Rules {
    /// Hottest reading at which the chamber may be opened (°C).
    pub open_below_c: f32,
    /// Longest firing (ms).
    pub firing_max_ms: u64,
    /// Time that a lift or a door is given to move (ms).
    pub closure_max_ms: u64,
    /// The chamber can be under vacuum, so that opening waits for air.
    pub has_vacuum: bool,
}

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
