//! What the controller remembers of bookmarks and of an interrupted firing.

use serde::Serialize;

use super::bookmark::Bookmark;
use crate::units::Instant;

/// Bookmarks of the running firing, and the firing that a power cut interrupted.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct Recovery {
    pub(super) interrupted: Option<Bookmark>,
    /// Start was pressed once although the reading has fallen far.
    pub(super) asked: bool,
    /// Step, drawn vacuum and time of the last bookmark of the running firing.
    pub(super) noted: Option<(u8, bool, Instant)>,
    /// The bookmark that is due after this tick. Set anew in every tick.
    #[serde(skip)]
    pub(super) due: Option<Bookmark>,
}

impl Recovery {
    /// The interrupted firing that waits for the operator.
    pub(super) const fn interrupted(&self) -> Option<Bookmark> {
        self.interrupted
    }

    /// Takes the interrupted firing to go on with it.
    pub(super) fn take(&mut self) -> Option<Bookmark> {
        self.interrupted.take()
    }

    /// Forgets the interrupted firing; true if there was one.
    pub(super) fn discard(&mut self) -> bool {
        self.asked = false;
        self.interrupted.take().is_some()
    }
}
