//! Pump and valves, in an order that never sucks pump oil back and never lets air into a
//! chamber that is too hot for it.

use serde::Serialize;

use crate::sequencer::Demand;

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

/// Memory of the vacuum control.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct VacuumControl {
    state: PumpState,
    venting: bool,
}

/// How far below its limit the chamber must be before the vent opens (K), so that noise does not
/// move the valve.
const VENT_MARGIN_K: f32 = 5.0;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
enum PumpState {
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
    /// One tick. `hottest_c` is the hottest that the chamber can be (°C), `None` if that is not
    /// proven; air is let in only below `vent_below_c`.
    pub fn step(&mut self, plan: &Demand, hottest_c: Option<f32>, vent_below_c: f32) -> Valves {
        let draw = plan.vacuum_pa.is_some();
        self.state = match (self.state, draw) {
            (PumpState::Rest | PumpState::Stopping(_), true) => PumpState::Starting(1),
            (PumpState::Starting(ticks), true) if ticks >= PUMP_TICKS => PumpState::Drawing,
            (PumpState::Starting(ticks), true) => PumpState::Starting(ticks.saturating_add(1)),
            (PumpState::Drawing, true) => PumpState::Drawing,
            (PumpState::Drawing | PumpState::Starting(_), false) => PumpState::Stopping(1),
            (PumpState::Stopping(ticks), false) if ticks >= PUMP_TICKS => PumpState::Rest,
            (PumpState::Stopping(ticks), false) => PumpState::Stopping(ticks.saturating_add(1)),
            (PumpState::Rest, false) => PumpState::Rest,
        };
        let margin = if self.venting { 0.0 } else { VENT_MARGIN_K };
        let cool = hottest_c.is_some_and(|hottest| hottest < vent_below_c - margin);
        self.venting = self.state == PumpState::Rest && cool;
        Valves {
            pump: self.state != PumpState::Rest,
            isolation: self.state == PumpState::Drawing,
            vent: self.venting,
        }
    }
}
