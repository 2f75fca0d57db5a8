//! The watch on the reading against the setpoint of the moment.

use serde::Serialize;

use super::cause::Cause;
use super::inputs::InterlockInputs;
use crate::furnace::Furnace;

/// State of the setpoint watch.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct SetpointWatch {}

impl SetpointWatch {
    /// Updates the watch with one tick and returns the cause that is present.
    pub(super) fn update(
        &mut self,
        _furnace: &Furnace,
        _inputs: &InterlockInputs<'_>,
    ) -> Option<Cause> {
        None
    }
}
