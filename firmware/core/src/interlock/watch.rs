//! Counters that decide how long a finding must last.

use serde::Serialize;

/// A count of consecutive ticks.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub(super) struct ConsecutiveCount(u16);

impl ConsecutiveCount {
    /// Takes one tick.
    pub(super) fn take(&mut self, found: bool) {
        self.0 = if found { self.0.saturating_add(1) } else { 0 };
    }

    /// True once the finding has held for `ticks` ticks in a row.
    pub(super) const fn held(self, ticks: u16) -> bool {
        self.0 >= ticks
    }
}

/// A bucket that bad ticks fill and good ones drain, slowly: three bad ones in a row fill it, and
/// so does anything that comes and goes more often than once in seventeen ticks.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub(super) struct LeakyBucket(u8);

impl LeakyBucket {
    const BAD: u8 = 16;
    const FULL: u8 = 48;

    /// Takes one tick; true if the bucket is full.
    pub(super) fn take(&mut self, bad: bool) -> bool {
        self.0 = if bad {
            self.0.saturating_add(Self::BAD).min(Self::FULL)
        } else {
            self.0.saturating_sub(1)
        };
        bad && self.0 >= Self::FULL
    }
}
