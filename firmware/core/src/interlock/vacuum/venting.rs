//! Whether the gauge follows the air that the vent lets in.

use serde::Serialize;

use crate::demand::AIR_PA;

/// Ticks in which an open vent must raise the pressure: a minute.
const WINDOW_TICKS: u16 = 600;

/// Minimum rise in that time (Pa), until the chamber counts as full of air.
const RISE_PA: u32 = 2_000;

/// The window that runs while the vent is open.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct VentingWatch {
    ticks: u16,
    start_pa: u32,
}

impl VentingWatch {
    /// Processes one tick; returns true if the vent is commanded open and no air comes in.
    pub(super) fn update(&mut self, vents: bool, pressure_pa: Option<u32>) -> bool {
        let (true, Some(pa)) = (vents, pressure_pa) else {
            self.ticks = 0;
            return false;
        };
        if self.ticks == 0 || pa >= AIR_PA {
            (self.ticks, self.start_pa) = (1, pa);
            return false;
        }
        self.ticks = self.ticks.saturating_add(1);
        if self.ticks <= WINDOW_TICKS {
            return false;
        }
        self.ticks = 0;
        pa < self.start_pa.saturating_add(RISE_PA)
    }
}
