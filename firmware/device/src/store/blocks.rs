//! Flash in blocks of 16 bytes: whatever the granularity of a chip, everything is read, written and
//! verified block by block.

use embedded_storage::nor_flash::{NorFlash, NorFlashError, NorFlashErrorKind};

use super::error::StoreError;
use super::region::Region;

/// Bytes of a block.
pub(super) const BLOCK_BYTES: u16 = 16;

/// A block.
pub(super) type Block = [u8; BLOCK_BYTES as usize];

/// A block that was erased and not written since.
pub(super) const BLANK_BLOCK: Block = [0xFF; BLOCK_BYTES as usize];

impl Region {
    /// Number of blocks.
    pub(super) const fn block_count(self) -> u32 {
        self.bytes / 16
    }

    /// Address of a block.
    fn block_address(self, index: u32) -> Result<u32, StoreError> {
        let known = Some(index).filter(|index| *index < self.block_count());
        let offset = known.and_then(|index| index.checked_mul(u32::from(BLOCK_BYTES)));
        let at = offset.and_then(|offset| self.at.checked_add(offset));
        at.ok_or(StoreError::Flash(NorFlashErrorKind::OutOfBounds))
    }
}

/// A flash, accessed block by block.
pub(super) struct BlockFlash<F>(pub(super) F);

impl<F: NorFlash> BlockFlash<F> {
    pub(super) fn read(&mut self, region: Region, index: u32) -> Result<Block, StoreError> {
        let mut block = BLANK_BLOCK;
        self.0.read(region.block_address(index)?, &mut block).map_err(flash_error)?;
        Ok(block)
    }

    /// Writes a block and reads it back.
    pub(super) fn write(
        &mut self,
        region: Region,
        index: u32,
        block: &Block,
    ) -> Result<(), StoreError> {
        let at = region.block_address(index)?;
        self.0.write(at, block).map_err(flash_error)?;
        if self.read(region, index)? != *block {
            return Err(StoreError::VerifyFailed { at });
        }
        Ok(())
    }

    /// Erases a region and checks that it is blank.
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

    /// Writes bytes from a block on; the rest of the last block stays blank.
    pub(super) fn write_from(
        &mut self,
        region: Region,
        first: u32,
        bytes: &[u8],
    ) -> Result<(), StoreError> {
        let mut index = first;
        for chunk in bytes.chunks(usize::from(BLOCK_BYTES)) {
            let mut block = BLANK_BLOCK;
            copy_into(&mut block, chunk.iter().copied());
            self.write(region, index, &block)?;
            index = index.saturating_add(1);
        }
        Ok(())
    }
}

/// The generic kind of a driver's error.
fn flash_error(error: impl NorFlashError) -> StoreError {
    StoreError::Flash(error.kind())
}

/// Copies bytes until either side ends.
pub(super) fn copy_into(to: &mut [u8], bytes: impl IntoIterator<Item = u8>) {
    for (to, from) in to.iter_mut().zip(bytes) {
        *to = from;
    }
}

/// Reads fields from the front of bytes.
pub(super) struct Fields<'a>(pub(super) &'a [u8]);

impl Fields<'_> {
    pub(super) fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (field, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*field)
    }
}
