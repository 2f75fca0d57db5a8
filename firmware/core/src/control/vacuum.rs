//! Pump and valve sequencing. It never lets pump oil be sucked back, and never vents a chamber that
//! is too hot for air.

use serde::Serialize;

use crate::demand::Demand;

/// Ticks for which the pump runs before the isolation valve opens and after it shuts: 2 s.
const PUMP_TICKS: u8 = 20;

/// Commands for pump and valves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Valves {
    /// Run the pump.
    pub pump: bool,
    /// Open the valve between chamber and pump.
    pub isolation: bool,
    /// Open the valve between chamber and atmosphere.
    pub vent: bool,
}

/// State of the vacuum control.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct VacuumControl {
    state: PumpState,
    venting: bool,
}

/// Hysteresis of the vent (K): it opens this far below its limit and shuts at the limit, so that
/// noise does not make the valve chatter.
const VENT_MARGIN_K: f32 = 5.0;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
enum PumpState {
    /// Pump off, isolation shut.
    #[default]
    Rest,
    /// Pump on, isolation still shut.
    Starting(u8),
    /// Pump on, isolation open.
    Drawing,
    /// Isolation shut again, pump still running.
    Stopping(u8),
}

impl VacuumControl {
    /// Processes one tick. `worst_case_c` is the maximum temperature that the chamber can have (°C),
    /// `None` if unknown. The vent opens only below `vent_below_c`.
    pub fn step(
        &mut self,
        demand: &Demand,
        worst_case_c: Option<f32>,
        vent_below_c: f32,
    ) -> Valves {
        let draw = demand.vacuum_pa.is_some();
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
        let cool = worst_case_c.is_some_and(|celsius| celsius < vent_below_c - margin);
        self.venting = self.state == PumpState::Rest && cool;
        Valves {
            pump: self.state != PumpState::Rest,
            isolation: self.state == PumpState::Drawing,
            vent: self.venting,
        }
    }
}
