//! Pump and valve sequencing. It never lets pump oil be sucked back, and never vents a chamber that
//! is too hot for air.

use serde::Serialize;

use super::pressure_hold::{Allowance, PressureHold};
use crate::demand::{AIR_PA, Demand};
use crate::furnace::DRY_FROM_C;

/// Ticks for which the pump runs before the isolation valve opens and after it shuts: 2 s.
const PUMP_TICKS: u8 = 20;

/// Hysteresis of the vent (K): it opens this far below its limit and shuts at the limit, so that
/// noise does not make the valve chatter.
const VENT_MARGIN_K: f32 = 5.0;

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

/// What is known of the chamber in one tick.
#[derive(Clone, Copy, Debug, Default)]
pub struct VacuumConditions {
    /// Maximum temperature that the chamber can have (°C); `None` if unknown.
    pub worst_case_c: Option<f32>,
    /// The vent opens only below this temperature (°C).
    pub vent_below_c: f32,
    /// Pressure (Pa); `None` if the gauge did not answer.
    pub pressure_pa: Option<u32>,
    /// The interlock has found that the isolation valve does not shut.
    pub isolation_stuck: bool,
}

/// State of the vacuum control.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct VacuumControl {
    state: PumpState,
    venting: bool,
    hold: PressureHold,
}

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
    /// The isolation valve does not shut: the pump runs until there is air in the chamber, since a
    /// chamber under vacuum would suck its oil back.
    UntilAir,
}

impl VacuumControl {
    /// Processes one tick.
    pub fn step(&mut self, demand: &Demand, gas: &VacuumConditions) -> Valves {
        let cool = |margin_k: f32| {
            gas.worst_case_c.is_some_and(|celsius| celsius < gas.vent_below_c - margin_k)
        };
        let isolate = match (self.state, demand.vacuum_pa) {
            (_, None) => {
                self.hold = PressureHold::default();
                false
            }
            (PumpState::Drawing, Some(to_pa)) => {
                let wet = gas.worst_case_c.is_some_and(|celsius| celsius < DRY_FROM_C);
                let allowance = if wet { Allowance::Wet { to_pa } } else { Allowance::Dry };
                self.hold.update(gas.pressure_pa, allowance)
            }
            (_, Some(_)) => false,
        };
        self.state = self.next_state(demand.vacuum_pa.is_some(), isolate, gas);
        let shut_off = matches!(self.state, PumpState::Rest | PumpState::UntilAir);
        self.venting = shut_off && cool(if self.venting { 0.0 } else { VENT_MARGIN_K });
        Valves {
            pump: self.state != PumpState::Rest,
            isolation: self.state == PumpState::Drawing,
            vent: self.venting,
        }
    }

    fn next_state(&self, draw: bool, isolate: bool, gas: &VacuumConditions) -> PumpState {
        if gas.isolation_stuck && self.state != PumpState::Rest {
            let air = gas.pressure_pa.is_some_and(|pa| pa >= AIR_PA);
            return if air { PumpState::Rest } else { PumpState::UntilAir };
        }
        match (self.state, draw) {
            (PumpState::Rest | PumpState::Stopping(_), true) => PumpState::Starting(1),
            (PumpState::Starting(PUMP_TICKS..), true) if self.hold.is_lost() => self.state,
            (PumpState::Starting(PUMP_TICKS..), true) => PumpState::Drawing,
            (PumpState::Starting(ticks), true) => PumpState::Starting(ticks.saturating_add(1)),
            (PumpState::Drawing, true) if isolate => PumpState::Starting(1),
            (PumpState::Drawing, true) => PumpState::Drawing,
            (PumpState::Drawing | PumpState::Starting(_), false) => PumpState::Stopping(1),
            (PumpState::Stopping(PUMP_TICKS..), false) => PumpState::Rest,
            (PumpState::Stopping(ticks), false) => PumpState::Stopping(ticks.saturating_add(1)),
            (PumpState::Rest, false) => PumpState::Rest,
            // The trip was accepted before the air was in.
            (PumpState::UntilAir, _) => match gas.pressure_pa {
                Some(AIR_PA..) => PumpState::Rest,
                Some(_) | None => PumpState::UntilAir,
            },
        }
    }

    /// The pressure rose while the pump drew, and again after another try.
    pub const fn has_lost_pressure(&self) -> bool {
        self.hold.is_lost()
    }
}
