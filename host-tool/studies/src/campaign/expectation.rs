//! What must follow a fault, and by when.

use saggar_bench::observer::TickRecord;
use saggar_bench::observer::invariants::AIR_FROM_PA;
use saggar_core::interlock::Cause;

/// When a fault can be seen at all: the time of a reaction counts only then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exposure {
    /// While a firing runs.
    Firing,
    /// The same, if one ran when the fault struck: what happens once before it is over.
    FiringAtStrike,
    /// While a step heats, so that there is a setpoint.
    Heating,
    /// In the ticks with a cycle that conducts.
    Cycles,
    /// In the ticks without one, with the contactor commanded closed.
    NoCycles,
    /// While the contactor is commanded closed.
    Closed,
    /// While the auxiliary contact says closed although the contactor is commanded open.
    SeemsClosed,
    /// While the pump draws from the chamber.
    Drawing,
    /// While the vent is commanded open and air is still missing.
    Venting,
    /// While the lift or door is on its way, or commanded to another end than it is at.
    Moving,
}

impl Exposure {
    /// Whether a tick counts.
    pub fn counts(self, record: &TickRecord<'_>) -> bool {
        let (outputs, core, world) = (record.outputs, record.core, record.world);
        match self {
            Self::Firing | Self::FiringAtStrike => core.is_firing(),
            Self::Heating => core.status().setpoint.is_some(),
            Self::Cycles => outputs.heater_cycles != 0,
            Self::NoCycles => outputs.contactor && outputs.heater_cycles == 0,
            Self::Closed => outputs.contactor,
            Self::SeemsClosed => record.inputs.contactor_closed && !outputs.contactor,
            Self::Drawing => outputs.isolation_valve,
            Self::Venting => outputs.vent_valve && world.drive().pressure_pa < AIR_FROM_PA,
            Self::Moving => {
                let there = if outputs.open_closure { 1.0 } else { 0.0 };
                core.is_firing() && (world.drive().opening - there).abs() > 0.001
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
