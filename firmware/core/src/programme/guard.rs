//! Checks that the programme in memory stays the one that was verified. It reads one byte a tick,
//! so that a pass over the longest programme takes under two minutes, and starts over at the end. Where
//! the steps begin and how many there are is kept next to the bytes, and is checked with them.

use serde::Serialize;

use super::ProgrammeImage;
use crate::checksum::{CRC, CrcDigest};

/// A repeated CRC check of an image, one byte at a time.
#[derive(Clone)]
pub struct ImageGuard {
    expected: u32,
    crc: CrcDigest,
    position: usize,
    intact: bool,
}

/// The state of a guard for a snapshot. The CRC so far can be computed from the bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct GuardPosition {
    /// CRC-32 of the start of the steps, their number and the whole image when the guard was created.
    expected: u32,
    /// Offset of the next byte.
    position: u16,
    intact: bool,
}

impl core::fmt::Debug for ImageGuard {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("ImageGuard")
            .field("position", &self.position)
            .field("intact", &self.intact)
            .finish()
    }
}

impl ImageGuard {
    /// A guard for an image in its present state.
    pub fn new(image: &ProgrammeImage) -> Self {
        Self { expected: checksum(image), crc: begin(image), position: 0, intact: true }
    }

    /// The state of the guard, for a snapshot.
    pub fn position(&self) -> GuardPosition {
        // Never saturates: the longest image has `IMAGE_BYTES_MAX` bytes.
        let position = u16::try_from(self.position).unwrap_or(u16::MAX);
        GuardPosition { expected: self.expected, position, intact: self.intact }
    }

    /// A guard that continues from a saved position; `None` if it was saved with another image.
    #[cfg(feature = "restore")]
    pub fn resume(image: &ProgrammeImage, saved: GuardPosition) -> Option<Self> {
        let mut guard = Self::new(image);
        let checked = image.bytes().get(..usize::from(saved.position))?;
        guard.crc.update(checked);
        (guard.position, guard.intact) = (checked.len(), saved.intact);
        (guard.expected == saved.expected).then_some(guard)
    }

    /// Checks one more byte. Returns false, from then on, once a pass has found a changed image.
    pub fn check_next_byte(&mut self, image: &ProgrammeImage) -> bool {
        match image.bytes().get(self.position) {
            Some(byte) => {
                self.crc.update(core::slice::from_ref(byte));
                self.position = self.position.wrapping_add(1);
            }
            None => {
                let crc = core::mem::replace(&mut self.crc, begin(image));
                self.intact &= crc.finalize() == self.expected;
                self.position = 0;
            }
        }
        self.intact
    }

    /// Checks the whole image at once. Returns false, from then on, once a change has been found.
    pub fn check_all(&mut self, image: &ProgrammeImage) -> bool {
        self.intact &= checksum(image) == self.expected;
        self.intact
    }
}

/// A CRC of what is kept next to the bytes.
fn begin(image: &ProgrammeImage) -> CrcDigest {
    let mut crc = CRC.digest();
    crc.update(&image.layout());
    crc
}

fn checksum(image: &ProgrammeImage) -> u32 {
    let mut crc = begin(image);
    crc.update(image.bytes());
    crc.finalize()
}
