//! Whether the gauge answers where the firing needs it, and reads what gas can do.

use serde::Serialize;

use super::super::counters::ConsecutiveCount;
use crate::demand::{Demand, Wait};

/// Checks in a row, one a second, without an answer that count: 3 s.
const MISSING_CHECKS: u16 = 3;

/// Checks in a row after a fall that no pump can cause.
const FALLEN_CHECKS: u16 = 3;

/// A fall to less than this share from one check to the next is faster than any pump: it would have to
/// empty the chamber more than once a second.
const FALL_SHARE: u32 = 4;

/// Pressure from which on a fall can be judged (Pa): below it lies the noise of gauges.
const JUDGED_FROM_PA: u32 = 1_000;

/// State of the watch on the gauge.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct GaugeWatch {
    missing: ConsecutiveCount,
    fallen: ConsecutiveCount,
    /// The last reading that is believed (Pa); 0 before the first.
    believed_pa: u32,
}

impl GaugeWatch {
    /// Makes the check of a second; `demand` is that of a firing. Returns true if the gauge cannot be believed.
    pub(super) fn update(&mut self, demand: Option<&Demand>, pressure_pa: Option<u32>) -> bool {
        let Some(demand) = demand else {
            *self = Self::default();
            return false;
        };
        let needed = demand.vacuum_pa.is_some() || demand.waiting == Some(Wait::Air);
        self.missing.update(needed && pressure_pa.is_none());
        if let Some(pa) = pressure_pa {
            let fallen =
                self.believed_pa >= JUDGED_FROM_PA && pa < self.believed_pa / FALL_SHARE;
            self.fallen.update(fallen);
            if !fallen {
                self.believed_pa = pa;
            }
        }
        self.missing.has_held_for(MISSING_CHECKS) || self.fallen.has_held_for(FALLEN_CHECKS)
    }
}
