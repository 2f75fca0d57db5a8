//! The self-test of the heater's electrical side before the first heat of a firing.
//!
//! It only commands. The interlock's ordinary watches on contactor and current judge what comes back,
//! and its cycles need the same permit as any heat.

use serde::Serialize;

use super::interface::SequencerLimits;
use crate::demand::SelfTestPhase;

/// Ticks for which the contactor is commanded open: 0.5 s.
const OPEN_TICKS: u8 = 5;

/// Ticks for which it is commanded closed without a conducting cycle: 1 s.
const CLOSED_TICKS: u8 = 10;

/// Ticks in which every cycle conducts: one until the permit is there, and 0.5 s.
const FULL_TICKS: u8 = 6;

/// Progress of the self-test.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct SelfTest {
    ticks: u8,
}

impl SelfTest {
    /// The phase of this tick; `None` once the test is over. A furnace without a current sensor gets no
    /// full cycles, and one that has no auxiliary contact either gets no test: nothing could judge it.
    pub(super) const fn advance(&mut self, limits: &SequencerLimits) -> Option<SelfTestPhase> {
        const CLOSED_FROM: u8 = OPEN_TICKS;
        const FULL_FROM: u8 = CLOSED_FROM + CLOSED_TICKS;
        const END: u8 = FULL_FROM + FULL_TICKS;
        let last = if limits.has_current_sensor {
            END
        } else if limits.has_auxiliary_contact {
            FULL_FROM
        } else {
            0
        };
        if self.ticks >= last {
            return None;
        }
        let phase = match self.ticks {
            0..CLOSED_FROM => SelfTestPhase::ContactorOpen,
            CLOSED_FROM..FULL_FROM => SelfTestPhase::ContactorClosed,
            FULL_FROM.. => SelfTestPhase::FullCycles,
        };
        self.ticks = self.ticks.saturating_add(1);
        Some(phase)
    }
}
