//! Flash in lines of 16 bytes: whatever the granularity of a chip, everything is read, written
//! and compared line by line.

use embedded_storage::nor_flash::{NorFlash, NorFlashError, NorFlashErrorKind};

use super::error::StoreError;
use super::region::Region;

/// Bytes of a line.
pub(super) const LINE: u16 = 16;

/// A line.
pub(super) type Line = [u8; LINE as usize];

/// A line that was erased and not written since.
pub(super) const BLANK: Line = [0xFF; LINE as usize];

impl Region {
    /// How many lines it has.
    pub(super) const fn lines(self) -> u32 {
        self.bytes / 16
    }

    /// Address of a line.
    fn line(self, index: u32) -> Result<u32, StoreError> {
        let known = Some(index).filter(|index| *index < self.lines());
        let offset = known.and_then(|index| index.checked_mul(u32::from(LINE)));
        let at = offset.and_then(|offset| self.at.checked_add(offset));
        at.ok_or(StoreError::Flash(NorFlashErrorKind::OutOfBounds))
    }
}

/// A flash, line by line.
pub(super) struct Lines<F>(pub(super) F);

impl<F: NorFlash> Lines<F> {
    pub(super) fn read(&mut self, region: Region, index: u32) -> Result<Line, StoreError> {
        let mut line = BLANK;
        self.0.read(region.line(index)?, &mut line).map_err(failed)?;
        Ok(line)
    }

    /// Writes a line and compares what is there then.
    pub(super) fn write(
        &mut self,
        region: Region,
        index: u32,
        line: &Line,
    ) -> Result<(), StoreError> {
        let at = region.line(index)?;
        self.0.write(at, line).map_err(failed)?;
        if self.read(region, index)? != *line {
            return Err(StoreError::NotKept { at });
        }
        Ok(())
    }

    /// Erases a region and looks whether it is blank then.
    pub(super) fn erase(&mut self, region: Region) -> Result<(), StoreError> {
        let end = region.at.saturating_add(region.bytes);
        self.0.erase(region.at, end).map_err(failed)?;
        if !self.is_blank(region)? {
            return Err(StoreError::NotKept { at: region.at });
        }
        Ok(())
    }

    pub(super) fn is_blank(&mut self, region: Region) -> Result<bool, StoreError> {
        for index in 0..region.lines() {
            if self.read(region, index)? != BLANK {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Writes bytes from a line on; the rest of the last line stays blank.
    pub(super) fn write_from(
        &mut self,
        region: Region,
        first: u32,
        bytes: &[u8],
    ) -> Result<(), StoreError> {
        let mut index = first;
        for piece in bytes.chunks(usize::from(LINE)) {
            let mut line = BLANK;
            fill(&mut line, piece.iter().copied());
            self.write(region, index, &line)?;
            index = index.saturating_add(1);
        }
        Ok(())
    }
}

/// The generic part of what a driver says.
fn failed(error: impl NorFlashError) -> StoreError {
    StoreError::Flash(error.kind())
}

/// Copies as much as there is, or as there is room for.
pub(super) fn fill(room: &mut [u8], bytes: impl IntoIterator<Item = u8>) {
    for (to, from) in room.iter_mut().zip(bytes) {
        *to = from;
    }
}

/// Takes fields off the front of bytes.
pub(super) struct Fields<'a>(pub(super) &'a [u8]);

impl Fields<'_> {
    pub(super) fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (field, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*field)
    }
}
