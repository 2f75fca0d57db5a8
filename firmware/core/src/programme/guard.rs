//! Watches that the programme in memory stays the one that was verified: a byte a tick, the
//! longest programme in under two minutes, for ever.

use serde::Serialize;

use super::ProgrammeImage;
use crate::checksum::{CRC, CrcDigest};

/// A walk through the bytes of an image.
#[derive(Clone)]
pub struct ImageGuard {
    expected: u32,
    walk: CrcDigest,
    at: usize,
    intact: bool,
}

/// Where a guard is, for a snapshot. What it has summed so far follows from the bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct GuardPosition {
    /// CRC-32 of all the bytes, as they were when the guard began.
    expected: u32,
    /// The next byte.
    at: u16,
    intact: bool,
}

impl core::fmt::Debug for ImageGuard {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Guard").field("at", &self.at).field("intact", &self.intact).finish()
    }
}

impl ImageGuard {
    /// A guard of these bytes as they are now.
    pub fn new(image: &ProgrammeImage) -> Self {
        Self { expected: CRC.checksum(image.bytes()), walk: CRC.digest(), at: 0, intact: true }
    }

    /// Where the guard is.
    pub fn position(&self) -> GuardPosition {
        // An image is shorter than that.
        let at = u16::try_from(self.at).unwrap_or(u16::MAX);
        GuardPosition { expected: self.expected, at, intact: self.intact }
    }

    /// A guard of these bytes that has come as far as another one; `None` if that one guarded
    /// other bytes.
    #[cfg(feature = "desk")]
    pub fn resume(image: &ProgrammeImage, mark: GuardPosition) -> Option<Self> {
        let mut guard = Self::new(image);
        let seen = image.bytes().get(..usize::from(mark.at))?;
        guard.walk.update(seen);
        (guard.at, guard.intact) = (seen.len(), mark.intact);
        (guard.expected == mark.expected).then_some(guard)
    }

    /// Looks at the next byte; false for ever once the bytes have changed.
    pub fn check_next_byte(&mut self, image: &ProgrammeImage) -> bool {
        match image.bytes().get(self.at) {
            Some(byte) => {
                self.walk.update(core::slice::from_ref(byte));
                self.at = self.at.wrapping_add(1);
            }
            None => {
                let walk = core::mem::replace(&mut self.walk, CRC.digest());
                self.intact &= walk.finalize() == self.expected;
                self.at = 0;
            }
        }
        self.intact
    }
}
