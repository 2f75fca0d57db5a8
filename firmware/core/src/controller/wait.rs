//! The alarm of a wait that lasts: nobody should find out in the morning that the furnace has waited
//! all night.

use serde::Serialize;

use crate::demand::{Demand, Wait};

/// Ticks of waiting after which the operator is called: ten minutes.
const LONG_TICKS: u16 = 6_000;

/// Ticks without the wait that end it: 10 s. A reading at the edge of its band comes and goes.
const GONE_TICKS: u8 = 100;

/// How long the firing has waited for the same.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct WaitAlarm {
    waiting: Option<Wait>,
    ticks: u16,
    gone: u8,
    sounds: bool,
}

impl WaitAlarm {
    /// Processes one tick. Returns the wait in the tick in which it has become long.
    pub(super) fn update(&mut self, demand: &Demand, confirm: bool) -> Option<Wait> {
        self.sounds &= !confirm;
        // Cooling is progress, and needs nobody.
        let waiting = demand.waiting.filter(|wait| *wait != Wait::Cooling);
        if waiting.is_none() {
            if !demand.firing {
                *self = Self::default();
            } else if self.waiting.is_some() {
                self.gone = self.gone.saturating_add(1);
                if self.gone >= GONE_TICKS {
                    *self = Self::default();
                }
            }
            return None;
        }
        if waiting != self.waiting {
            *self = Self { waiting, ..Self::default() };
        }
        self.gone = 0;
        if self.ticks >= LONG_TICKS {
            return None;
        }
        self.ticks = self.ticks.saturating_add(1);
        if self.ticks < LONG_TICKS {
            return None;
        }
        self.sounds = true;
        waiting
    }

    /// The operator is called: until the wait ends, or confirm is pressed.
    pub(super) const fn sounds(self) -> bool {
        self.sounds
    }
}
