//! Whether the pressure falls as a pump makes it fall: a dead pump, a valve that does not open and a
//! vent that does not shut are found long before the time limit of a stage, so that no air is passed
//! through a hot chamber meanwhile.

use serde::Serialize;

use super::super::cause::Cause;
use super::super::inputs::InterlockInputs;
use crate::demand::AIR_PA;
use crate::furnace::DRY_FROM_C;

/// Checks in a window, one a second: 20 s.
const WINDOW_CHECKS: u8 = 20;

/// The pressure must fall by this part of it in the first window from air. A pump that empties
/// the chamber once in 190 s just does it.
const FIRST_PART: u32 = 10;

/// The pressure must fall by this part of it in every window of a hot chamber, until it is
/// reached.
const LATER_PART: u32 = 20;

/// The window that runs while the pump draws.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct PumpDownWatch {
    checks: u8,
    start_pa: u32,
    /// The first window since the valve opened is over.
    after_first: bool,
    /// A reading of this window differed from its first.
    moved: bool,
}

impl PumpDownWatch {
    /// Makes the check of a second and returns the cause that is present.
    pub(super) fn update(&mut self, inputs: &InterlockInputs<'_>) -> Option<Cause> {
        let (true, Some(to_pa), Some(pa)) =
            (inputs.applied.isolation_valve, inputs.demand.vacuum_pa, inputs.raw.pressure_pa)
        else {
            if !inputs.applied.isolation_valve {
                *self = Self::default();
            }
            return None;
        };
        if self.checks == 0 {
            self.start_pa = pa;
            self.moved = false;
        }
        self.moved |= pa != self.start_pa;
        self.checks = self.checks.saturating_add(1);
        if self.checks <= WINDOW_CHECKS { None } else { self.end_window(inputs, pa, to_pa) }
    }

    /// Judges the window.
    fn end_window(
        &mut self,
        inputs: &InterlockInputs<'_>,
        pa: u32,
        to_pa: u32,
    ) -> Option<Cause> {
        self.checks = 0;
        let from_air =
            !core::mem::replace(&mut self.after_first, true) && self.start_pa >= AIR_PA;
        let part_pa = if from_air {
            self.start_pa / FIRST_PART
        } else if pa > to_pa && is_dry(inputs) {
            self.start_pa / LATER_PART
        } else {
            return None;
        };
        if pa < self.start_pa.saturating_sub(part_pa) {
            None
        } else if from_air && !self.moved {
            // Noise alone moves the reading of a gauge that lives.
            Some(Cause::GaugeImplausible)
        } else {
            Some(Cause::VacuumLate)
        }
    }
}

/// The chamber is too hot for a load that still gives off vapour.
fn is_dry(inputs: &InterlockInputs<'_>) -> bool {
    !inputs.estimate.worst_case_max_c().is_some_and(|celsius| celsius < DRY_FROM_C)
}
