//! The watch on the clock against the crossings of the mains.
//!
//! Ramps and soaks count ticks, so ticks are what the crossings are compared with. The frequency of a
//! public mains deviates by less than 1 % (common practice, no source).

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// Length of a window (s, and ticks).
const WINDOW_S: u16 = 60;
const WINDOW_TICKS: u16 = WINDOW_S * 10;

/// A deviation of more than one in this many crossings is a fault: 2 %.
const ONE_IN: u16 = 50;

/// State of the clock watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ClockWatch {
    ticks: u16,
    crossings: u16,
}

impl ClockWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        if !(furnace.heater.counts_crossings && inputs.demand.firing) {
            *self = Self::default();
            return None;
        }
        // A counter that gives nothing has counted nothing.
        let crossings = inputs.raw.mains_crossings.unwrap_or(0);
        self.crossings = self.crossings.wrapping_add(u16::from(crossings));
        self.ticks = self.ticks.wrapping_add(1);
        if self.ticks < WINDOW_TICKS {
            return None;
        }
        self.end_window(furnace)
    }

    /// Judges the window. Not inlined, so that the ticks between carry nothing of it.
    #[inline(never)]
    fn end_window(&mut self, furnace: &Furnace) -> Option<Cause> {
        let counted = core::mem::take(self).crossings;
        // Two crossings a cycle; at most 255 in a tick make 153,000.
        let expected = u16::from(furnace.heater.mains_hz).saturating_mul(2 * WINDOW_S);
        (counted.abs_diff(expected) > expected / ONE_IN).then_some(Cause::ClockWrong)
    }
}
