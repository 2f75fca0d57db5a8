//! The watch on the contactor and its auxiliary contact.

use serde::Serialize;

use super::cause::Cause;
use super::counters::ConsecutiveCount;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// Ticks in a row for which the contact may contradict the command: one until the contactor has moved,
/// and 300 ms more.
const CONTRADICTING_TICKS: u16 = 4;

/// State of the contactor watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ContactorWatch {
    contradicting: ConsecutiveCount,
}

impl ContactorWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        furnace: &Furnace,
        inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        if !contradicts(furnace, inputs) {
            self.contradicting.clear();
            return None;
        }
        self.contradicting.update(true);
        self.contradicting
            .has_held_for(CONTRADICTING_TICKS)
            .then_some(Cause::ContactorNotFollowing)
    }
}

/// True if the auxiliary contact does not show what was commanded in the last tick.
pub(super) const fn contradicts(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
    furnace.heater.auxiliary_contact && inputs.raw.contactor_closed != inputs.applied.contactor
}
