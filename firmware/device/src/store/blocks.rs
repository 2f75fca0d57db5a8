//! Flash in lines of 16 bytes: whatever the granularity of a chip, everything is read, written
//! and compared line by line.

use embedded_storage::nor_flash::{NorFlash, NorFlashError, NorFlashErrorKind};

use super::error::StoreError;
use super::region::Region;

/// Bytes of a line.
pub(super) const BLOCK_BYTES: u16 = 16;

/// A line.
pub(super) type Block = [u8; BLOCK_BYTES as usize];

/// A line that was erased and not written since.
pub(super) const BLANK_BLOCK: Block = [0xFF; BLOCK_BYTES as usize];

impl Region {
    /// How many lines it has.
    pub(super) const fn block_count(self) -> u32 {
        self.bytes / 16
    }

    /// Address of a line.
    fn block_address(self, index: u32) -> Result<u32, StoreError> {
        let known = Some(index).filter(|index| *index < self.block_count());
        let offset = known.and_then(|index| index.checked_mul(u32::from(BLOCK_BYTES)));
        let at = offset.and_then(|offset| self.at.checked_add(offset));
        at.ok_or(StoreError::Flash(NorFlashErrorKind::OutOfBounds))
    }
}

/// A flash, line by line.
pub(super) struct BlockFlash<F>(pub(super) F);

impl<F: NorFlash> BlockFlash<F> {
    pub(super) fn read(&mut self, region: Region, index: u32) -> Result<Block, StoreError> {
        let mut line = BLANK_BLOCK;
        self.0.read(region.block_address(index)?, &mut line).map_err(flash_error)?;
        Ok(line)
    }

    /// Writes a line and compares what is there then.
    pub(super) fn write(
        &mut self,
        region: Region,
        index: u32,
        line: &Block,
    ) -> Result<(), StoreError> {
        let at = region.block_address(index)?;
        self.0.write(at, line).map_err(flash_error)?;
        if self.read(region, index)? != *line {
            return Err(StoreError::VerifyFailed { at });
        }
        Ok(())
    }

    /// Erases a region and looks whether it is blank then.
    pub(super) fn erase(&mut self, region: Region) -> Result<(), StoreError> {
        let end = region.at.saturating_add(region.bytes);
        self.0.erase(region.at, end).map_err(flash_error)?;
        if !self.is_blank(region)? {
            return Err(StoreError::VerifyFailed { at: region.at });
        }
        Ok(())
    }

    pub(super) fn is_blank(&mut self, region: Region) -> Result<bool, StoreError> {
        for index in 0..region.block_count() {
            if self.read(region, index)? != BLANK_BLOCK {
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
        for piece in bytes.chunks(usize::from(BLOCK_BYTES)) {
            let mut line = BLANK_BLOCK;
            copy_into(&mut line, piece.iter().copied());
            self.write(region, index, &line)?;
            index = index.saturating_add(1);
        }
        Ok(())
    }
}

/// The generic part of what a driver says.
fn flash_error(error: impl NorFlashError) -> StoreError {
    StoreError::Flash(error.kind())
}

/// Copies as much as there is, or as there is room for.
pub(super) fn copy_into(room: &mut [u8], bytes: impl IntoIterator<Item = u8>) {
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
