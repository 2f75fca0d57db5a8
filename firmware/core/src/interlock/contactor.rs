//! The watch on the contactor and its auxiliary contact.

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// State of the contactor watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ContactorWatch {}

impl ContactorWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        _furnace: &Furnace,
        _inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        None
    }
}
