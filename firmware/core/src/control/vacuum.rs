//! Pump and valves, in an order that never sucks pump oil back and never lets air into a
//! chamber that is too hot for it.

use crate::sequencer::Plan;

/// Ticks that the pump runs before the isolation valve opens, and after it has shut: 2 s.
const PUMP_TICKS: u8 = 20;

/// What pump and valves do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Valves {
    /// Pump on.
    pub pump: bool,
    /// Valve between chamber and pump open.
    pub isolation: bool,
    /// Valve between chamber and air open.
    pub vent: bool,
}

/// Memory of the vacuum control: for how many ticks the pump has run with the isolation valve
/// shut.
#[derive(Clone, Copy, Debug, Default)]
pub struct VacuumControl {
    state: State,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum State {
    /// Pump off, isolation shut.
    #[default]
    Rest,
    /// Pump on, isolation still shut.
    Starting(u8),
    /// Pump on, isolation open.
    Drawing,
    /// Isolation shut again, pump running on.
    Stopping(u8),
}

impl VacuumControl {
    /// One tick. `vent_allowed` is the proof that the reading is below the furnace's limit for
    /// letting air in.
    pub fn step(&mut self, plan: &Plan, vent_allowed: bool) -> Valves {
        let draw = plan.vacuum_pa.is_some();
        self.state = match (self.state, draw) {
            (State::Rest | State::Stopping(_), true) => State::Starting(1),
            (State::Starting(ticks), true) if ticks >= PUMP_TICKS => State::Drawing,
            (State::Starting(ticks), true) => State::Starting(ticks.saturating_add(1)),
            (State::Drawing, true) => State::Drawing,
            (State::Drawing | State::Starting(_), false) => State::Stopping(1),
            (State::Stopping(ticks), false) if ticks >= PUMP_TICKS => State::Rest,
            (State::Stopping(ticks), false) => State::Stopping(ticks.saturating_add(1)),
            (State::Rest, false) => State::Rest,
        };
        Valves {
            pump: self.state != State::Rest,
            isolation: self.state == State::Drawing,
            vent: self.state == State::Rest && vent_allowed,
        }
    }
}
