//! Counters that decide how long a condition must last before it counts.

use serde::Serialize;

/// Counts consecutive ticks in which a condition holds.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ConsecutiveCount(u16);

impl ConsecutiveCount {
    /// Updates the count with one tick.
    pub(super) fn update(&mut self, holds: bool) {
        self.0 = if holds { self.0.saturating_add(1) } else { 0 };
    }

    /// Starts again from nothing.
    pub(super) const fn clear(&mut self) {
        self.0 = 0;
    }

    /// True once the condition has held for `ticks` ticks in a row.
    pub(super) const fn has_held_for(self, ticks: u16) -> bool {
        self.0 >= ticks
    }
}

/// A leaky bucket: bad ticks fill it, good ticks drain it slowly. Three bad ticks in a row fill it,
/// and so does a fault that recurs more often than once in seventeen ticks.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct LeakyBucket(u8);

impl LeakyBucket {
    const FILL: u8 = 16;
    const FULL: u8 = 48;

    /// Updates the bucket with one tick; returns true if this tick is bad and the bucket is full.
    pub(super) fn update(&mut self, bad: bool) -> bool {
        self.0 = if bad {
            self.0.saturating_add(Self::FILL).min(Self::FULL)
        } else {
            self.0.saturating_sub(1)
        };
        bad && self.0 >= Self::FULL
    }
}
