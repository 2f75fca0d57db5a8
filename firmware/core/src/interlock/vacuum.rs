//! The watch on gauge, pump and valves.

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// State of the vacuum watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct VacuumWatch {}

impl VacuumWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        _furnace: &Furnace,
        _inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        None
    }
}
