//! The steps that a programme is made of. Integers only: what is written is what is run.

use serde::{Deserialize, Serialize};

/// One step: what the chamber does, and what the vacuum does meanwhile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Step {
    /// What the chamber does.
    pub action: Action,
    /// The vacuum to draw and keep during this step; `None` is atmosphere.
    pub vacuum: Option<VacuumStage>,
}

/// What the chamber does in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Action {
    /// Move the setpoint at a steady rate, with rounded corners, up or down.
    Ramp {
        /// Setpoint at the end (thousandths of a degree Celsius).
        to_mc: i32,
        /// Rate (thousandths of a kelvin per minute), above zero in either direction.
        rate_mk_per_min: u32,
    },
    /// Hold the setpoint. Time counts only while the reading is inside the band.
    Soak {
        /// Time to gather inside the band (ms).
        duration_ms: u32,
        /// Half width of the band (thousandths of a kelvin).
        band_mk: u32,
        /// Time outside the band after which the firing is given up (ms).
        band_timeout_ms: u32,
    },
    /// Heat off, chamber as it stands, until the reading has fallen this far.
    Cool {
        /// Reading at the end (thousandths of a degree Celsius).
        below_mc: i32,
    },
    /// Heat off; move the lift, or ask for the door, and stay there.
    MoveClosure {
        /// To open (`true`) or to shut (`false`).
        open: bool,
        /// Time to stay once the contacts prove the position (ms).
        dwell_ms: u32,
    },
    /// Hold the setpoint until the operator confirms.
    Hold {
        /// Time to wait for the answer (ms).
        timeout_ms: u32,
        /// What silence means: go on (`true`) or end the firing (`false`).
        continue_on_timeout: bool,
    },
}

/// A vacuum stage as a step carries it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct VacuumStage {
    /// Reading from which the pump runs (thousandths of a degree Celsius). A rising step waits
    /// there, with heat to hold it, until the pressure is reached.
    pub from_mc: i32,
    /// Absolute pressure to reach and keep (Pa).
    pub to_pa: u32,
    /// Time to reach it in (ms).
    pub within_ms: u32,
}

impl Action {
    /// The setpoint that the step raises or lowers the furnace to (thousandths of a degree
    /// Celsius); `None` for a step that sets none.
    pub const fn setpoint_mc(&self) -> Option<i32> {
        match self {
            Self::Ramp { to_mc, .. } => Some(*to_mc),
            Self::Soak { .. }
            | Self::Cool { .. }
            | Self::MoveClosure { .. }
            | Self::Hold { .. } => None,
        }
    }

    /// The step may ask for heat.
    pub const fn heats(&self) -> bool {
        match self {
            Self::Ramp { .. } | Self::Soak { .. } | Self::Hold { .. } => true,
            Self::Cool { .. } | Self::MoveClosure { .. } => false,
        }
    }
}
