//! The steps of a programme. All values are integers, so that they mean the same on host and device.

use serde::{Deserialize, Serialize};

/// Whether a firing may go on in a step that a power cut interrupted. Going on always takes a press of
/// start at the device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AfterCut {
    /// It may go on.
    #[default]
    GoOn,
    /// It is over.
    End,
}

/// One step: an action, the vacuum stage that applies meanwhile, and what a power cut means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Step {
    /// The action.
    pub action: Action,
    /// The vacuum stage during this step; `None` for atmosphere.
    pub vacuum: Option<VacuumStage>,
    /// Whether the firing may go on after a power cut in this step.
    pub after_cut: AfterCut,
}

impl Step {
    /// A step after which a firing may go on after a power cut.
    pub const fn new(action: Action, vacuum: Option<VacuumStage>) -> Self {
        Self { action, vacuum, after_cut: AfterCut::GoOn }
    }
}

/// The action of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Action {
    /// Move the setpoint up or down at a constant rate, with rounded corners.
    Ramp {
        /// Setpoint at the end (thousandths of a degree Celsius).
        to_mc: i32,
        /// Rate (thousandths of a kelvin per minute), above zero for both directions.
        rate_mk_per_min: u32,
    },
    /// Keep the setpoint. Time counts only while the reading is inside the band.
    Soak {
        /// Time inside the band that completes the soak (ms).
        duration_ms: u32,
        /// Half width of the band (thousandths of a kelvin).
        band_mk: u32,
        /// Total time outside the band after which the firing ends (ms).
        band_timeout_ms: u32,
    },
    /// Heat off, chamber unchanged, until the reading has fallen to this value.
    Cool {
        /// Reading that ends the step (thousandths of a degree Celsius).
        below_mc: i32,
    },
    /// Heat off; move the lift, or ask for the door to be moved, and wait there.
    MoveClosure {
        /// Open (`true`) or shut (`false`).
        open: bool,
        /// Time to wait once the contacts prove the position (ms).
        dwell_ms: u32,
    },
    /// Keep the setpoint and wait for the operator to confirm: an operator hold.
    Hold {
        /// Time to wait for the confirmation (ms).
        timeout_ms: u32,
        /// After the time-out: go on (`true`) or end the firing (`false`).
        continue_on_timeout: bool,
    },
}

/// The vacuum stage of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct VacuumStage {
    /// Reading at which the pump starts (thousandths of a degree Celsius). A heating step waits there,
    /// at temperature, until the pressure is reached.
    pub from_mc: i32,
    /// Absolute pressure to reach and keep (Pa).
    pub to_pa: u32,
    /// Time limit for reaching the pressure (ms).
    pub within_ms: u32,
}

impl Action {
    /// The final setpoint of a ramp (thousandths of a degree Celsius); `None` for other actions.
    pub const fn setpoint_mc(&self) -> Option<i32> {
        match self {
            Self::Ramp { to_mc, .. } => Some(*to_mc),
            Self::Soak { .. }
            | Self::Cool { .. }
            | Self::MoveClosure { .. }
            | Self::Hold { .. } => None,
        }
    }

    /// True if the step may demand heat.
    pub const fn heats(&self) -> bool {
        match self {
            Self::Ramp { .. } | Self::Soak { .. } | Self::Hold { .. } => true,
            Self::Cool { .. } | Self::MoveClosure { .. } => false,
        }
    }
}
