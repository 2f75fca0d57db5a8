//! What must follow a fault, and by when.

use saggar_bench::observer::TickRecord;
use saggar_core::interlock::Cause;

/// Duty from which the heater counts as near full power.
const FULL_DUTY: f32 = 0.9;

/// When a fault can be seen at all: the time of a reaction counts only then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exposure {
    /// From power-up on.
    Always,
    /// While a firing runs.
    Firing,
    /// While a step heats, so that there is a setpoint.
    Heating,
    /// In the ticks with a cycle that conducts.
    Cycles,
    /// In the ticks without one, with the contactor commanded closed.
    NoCycles,
    /// While at least a quarter of the power is commanded.
    Quarter,
    /// Near full power.
    FullPower,
    /// While the contactor is commanded closed.
    Closed,
    /// While the contactor is commanded open in a firing.
    Opened,
    /// While the pump draws from the chamber.
    Drawing,
    /// While the pump runs and its valve is commanded shut.
    Isolated,
    /// While the vent is commanded open.
    Venting,
    /// While the lift or door is on its way, or commanded to another end than it is at.
    Moving,
}

impl Exposure {
    /// Whether a tick counts.
    pub fn counts(self, record: &TickRecord<'_>) -> bool {
        let (outputs, core) = (record.outputs, record.core);
        let duty = || core.status().commanded_duty;
        match self {
            Self::Always => true,
            Self::Firing => core.is_firing(),
            Self::Heating => core.status().setpoint.is_some(),
            Self::Cycles => outputs.heater_cycles != 0,
            Self::NoCycles => outputs.contactor && outputs.heater_cycles == 0,
            Self::Quarter => duty() >= 0.25,
            Self::FullPower => duty() >= FULL_DUTY,
            Self::Closed => outputs.contactor,
            Self::Opened => core.is_firing() && !outputs.contactor,
            Self::Drawing => outputs.isolation_valve,
            Self::Isolated => outputs.pump && !outputs.isolation_valve,
            Self::Venting => outputs.vent_valve,
            Self::Moving => {
                let there = if outputs.open_closure { 1.0 } else { 0.0 };
                core.is_firing() && (record.world.drive().opening - there).abs() > 0.001
            }
        }
    }
}

/// What must follow a fault.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Expectation {
    /// A trip for one of these causes, within this time of exposure (s).
    Trips {
        /// The causes that are right.
        causes: &'static [Cause],
        /// Maximum time of exposure (s).
        within_s: f64,
        /// When it counts.
        exposure: Exposure,
    },
    /// Nothing need follow as long as every invariant holds; a trip is right for one of these causes.
    Bounded {
        /// The causes that are right.
        causes: &'static [Cause],
    },
}

impl Expectation {
    /// The causes that are right.
    pub const fn causes(&self) -> &'static [Cause] {
        match self {
            Self::Trips { causes, .. } | Self::Bounded { causes } => causes,
        }
    }
}
