//! Whether the gauge follows the air that the vent lets in.

use serde::Serialize;

use crate::demand::AIR_PA;

/// Checks, one a second, in which an open vent must raise the pressure: a minute.
const WINDOW_CHECKS: u8 = 60;

/// Minimum rise in that time (Pa), until the chamber counts as full of air.
const RISE_PA: u32 = 2_000;

/// The window that runs while the vent is open.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct VentingWatch {
    checks: u8,
    start_pa: u32,
}

impl VentingWatch {
    /// Makes the check of a second; returns true if the vent is commanded open and no air comes in.
    pub(super) fn update(&mut self, vents: bool, pressure_pa: Option<u32>) -> bool {
        let (true, Some(pa)) = (vents, pressure_pa) else {
            self.checks = 0;
            return false;
        };
        if self.checks == 0 || pa >= AIR_PA {
            (self.checks, self.start_pa) = (1, pa);
            return false;
        }
        self.checks = self.checks.saturating_add(1);
        if self.checks <= WINDOW_CHECKS {
            return false;
        }
        self.checks = 0;
        pa < self.start_pa.saturating_add(RISE_PA)
    }
}
