//! The model: which actions there are, and what must hold.

use saggar_core::Cause;
use saggar_core::controller::LoadError;
use saggar_core::sequencer::Ending;
use stateright::Property;

use crate::key;
use crate::plant::{Buttons8, Fault, Plant, Surroundings};
use crate::rules::Rule;
use crate::state::{State, Wrapper};

/// What can happen next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Action {
    /// One second passes.
    Second,
    /// One second passes, and its first tick comes too late.
    Late,
    /// A button goes down, or up again: bit 0 start, 1 stop, 2 confirm.
    Button(u8),
    /// The chamber gets warm, or cool again.
    Warm,
    /// Somebody opens the chamber, or shuts it.
    Lift,
    /// A fault appears, or goes.
    Fault(Fault),
    /// A host uploads a programme.
    Upload(u8),
    /// The power fails and comes back.
    PowerCut,
}

/// How much of it there is.
#[derive(Clone, Copy, Debug)]
pub struct Scope {
    /// The faults that may appear.
    pub faults: &'static [Fault],
    /// How many of them at once.
    pub at_once: u32,
    /// The buttons that are pressed.
    pub buttons: &'static [u8],
    /// The programmes that are uploaded.
    pub programmes: u8,
    /// Whether ticks come late.
    pub late: bool,
    /// The causes that must be able to trip.
    pub causes: &'static [Cause],
}

impl Scope {
    /// A few actions: seconds of search.
    pub const SMALL: Self = Self {
        faults: &[Fault::ControlOpen],
        at_once: 1,
        buttons: &[0, 2],
        programmes: 1,
        late: false,
        causes: &[Cause::SensorOpen, Cause::ClosureOpen],
    };
    /// All kinds of actions, with three of the faults.
    pub const FULL: Self = Self {
        faults: &[Fault::ControlOpen, Fault::SamplesOld, Fault::CurrentFlows],
        at_once: 1,
        buttons: &[0, 1, 2],
        programmes: 2,
        late: true,
        causes: &[
            Cause::SensorOpen,
            Cause::AboveProgrammeLimit,
            Cause::HeaterStuckOn,
            Cause::ClosureOpen,
            Cause::TickOverrun,
        ],
    };

    /// A small scope with another fault.
    pub const fn small_with(faults: &'static [Fault], causes: &'static [Cause]) -> Self {
        Self { faults, causes, ..Self::SMALL }
    }
}

/// The model.
#[derive(Clone, Debug)]
pub struct Model {
    /// The furnace.
    pub plant: Plant,
    /// The actions.
    pub scope: Scope,
    /// What stands between core and device.
    pub wrapper: Wrapper,
}

impl Model {
    /// A model of this scope with an honest wrapper.
    pub fn new(scope: Scope) -> Self {
        Self { plant: Plant::default(), scope, wrapper: Wrapper::Honest }
    }

    /// The state after an action.
    pub fn after(&self, state: &State, action: Action) -> State {
        let Self { plant, wrapper, .. } = self;
        let around = state.around;
        match action {
            Action::Second => state.second(plant, *wrapper),
            Action::Late => state.late(plant, *wrapper),
            Action::Button(bit) => {
                let buttons = Buttons8(around.buttons.0 ^ 1 << bit);
                state.with(Surroundings { buttons, ..around })
            }
            Action::Warm => state.warmed(plant, *wrapper),
            Action::Lift => state.with(Surroundings { open: !around.open, ..around }),
            Action::Fault(fault) => state.toggled(fault),
            Action::Upload(which) => state.uploaded(plant, *wrapper, which),
            Action::PowerCut => state.rebooted(plant, *wrapper),
        }
    }

    /// What can happen in a state.
    pub fn possible(&self, state: &State) -> Vec<Action> {
        let Scope { faults, at_once, buttons, programmes, late, .. } = self.scope;
        let mut list = vec![Action::Second, Action::Lift, Action::PowerCut];
        if state.is_unread() || key::channels_are_rested(state.core()) {
            list.push(Action::Warm);
        }
        if late {
            list.push(Action::Late);
        }
        let around = &state.around;
        let down = around.buttons.0;
        let may_move = |bit: &&u8| down == 0 || down == 1 << **bit;
        list.extend(buttons.iter().filter(may_move).copied().map(Action::Button));
        let full = around.faults.count_ones() >= at_once;
        let may_toggle = |fault: &&Fault| around.has(**fault) || !full;
        list.extend(faults.iter().filter(may_toggle).copied().map(Action::Fault));
        list.extend((0..programmes).map(Action::Upload));
        list
    }
}

impl stateright::Model for Model {
    type State = State;
    type Action = Action;

    fn init_states(&self) -> Vec<State> {
        vec![State::new(&self.plant)]
    }

    fn actions(&self, state: &State, actions: &mut Vec<Action>) {
        actions.extend(self.possible(state));
    }

    fn next_state(&self, last: &State, action: Action) -> Option<State> {
        Some(self.after(last, action))
    }

    fn properties(&self) -> Vec<Property<Self>> {
        let mut list = always();
        list.extend(sometimes());
        let wanted = trips().into_iter().filter(|(cause, _)| self.scope.causes.contains(cause));
        list.extend(wanted.map(|(_, property)| property));
        list
    }
}

/// One property a rule.
fn always() -> Vec<Property<Model>> {
    macro_rules! holds {
        ($($rule:ident)*) => {
            vec![$(Property::always(Rule::$rule.says(), |_: &Model, state: &State| {
                !state.broken.has(Rule::$rule)
            })),*]
        };
    }
    holds! {
        HeatProven LatchHolds StartPressed UploadHarmless
        ContactorOpen VentCool PumpRuns OpensCool
    }
}

/// What must be possible, or the search would be about nothing.
fn sometimes() -> Vec<Property<Model>> {
    vec![
        Property::sometimes("it heats", |_: &Model, state: &State| {
            state.core().status().commanded_duty > 0.0
        }),
        Property::sometimes("a firing completes", |_: &Model, state: &State| {
            state.core().status().ending == Some(Ending::Completed)
        }),
        Property::sometimes("a trip is accepted", |_: &Model, state: &State| {
            let status = state.core().status();
            matches!(status.ending, Some(Ending::Tripped(_))) && status.trip.is_none()
        }),
        Property::sometimes("it goes on after a power cut", |_: &Model, state: &State| {
            state.resumed
        }),
        Property::sometimes("an upload is refused", |model: &Model, state: &State| {
            let image = &model.plant.programmes[0];
            state.core().is_firing()
                && state.core().check_programme(image.bytes(), &image.digest())
                    == Err(LoadError::FiringInProgress)
        }),
    ]
}

/// Every trip that some scope can cause.
fn trips() -> Vec<(Cause, Property<Model>)> {
    macro_rules! can_trip {
        ($($cause:ident)*) => {
            vec![$((
                Cause::$cause,
                Property::sometimes(Cause::$cause.name(), |_: &Model, state: &State| {
                    state.core().status().trip == Some(Cause::$cause)
                }),
            )),*]
        };
    }
    can_trip! {
        SensorOpen AboveProgrammeLimit AboveFurnaceLimit ClosureOpen TickOverrun HeaterStuckOn
        ContactorNotFollowing NoHeaterCurrent VacuumLate VacuumLost GaugeImplausible
    }
}
