//! Whether the contact that proves the chamber shut can open at all. One that is stuck closed would
//! let an open chamber heat, and nothing else tells.

use serde::Serialize;

/// Ticks in a row that count as open: a loose wire may flicker.
const OPEN_TICKS: u8 = 3;

/// What is known of the shut contact.
///
/// It must have been seen open since the last firing ended: each firing has new work, so that somebody
/// opened the chamber in between. What the contact did during that firing does not count, because it
/// may have stuck since.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ContactProof {
    proven: bool,
    /// Ticks in a row in which the contact is open.
    open_ticks: u8,
    /// A firing ran in the last tick.
    fired: bool,
}

impl ContactProof {
    /// Processes one tick.
    pub(super) fn update(&mut self, firing: bool, shut_contact: bool) {
        if core::mem::replace(&mut self.fired, firing) && !firing {
            *self = Self::default();
        }
        if !firing {
            self.open_ticks = if shut_contact { 0 } else { self.open_ticks.saturating_add(1) };
            self.proven |= self.open_ticks >= OPEN_TICKS;
        }
    }

    /// The contact was seen open, or a person has looked. During a firing: before its start.
    pub(super) const fn is_proven(self) -> bool {
        self.proven
    }

    /// A person has looked whether the chamber is shut, or a firing that a power cut interrupted, and
    /// that had the proof, goes on.
    pub(super) const fn prove(&mut self) {
        self.proven = true;
    }
}
