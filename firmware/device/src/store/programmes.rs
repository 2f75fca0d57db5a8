//! The store's programmes: upload, commit, read back.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};

use super::Store;
use super::blocks::BLOCK_BYTES;
use super::error::StoreError;
use super::header::ProgrammeHeader;
use super::region::Region;
use super::slots::{BODY_BLOCK, SlotState, StagedProgramme, digest_of, inspect, read_body};

impl<F: NorFlash> Store<F> {
    /// Header of the active programme.
    pub fn active(&self) -> Option<ProgrammeHeader> {
        self.slots.active.map(|(_, header)| header)
    }

    /// State of the two slots when [`Self::open`] inspected them, in the order of the layout.
    pub fn slot_states(&self) -> [SlotState; 2] {
        self.slots.found
    }

    /// Whether a committed programme was found changed in flash, so that an older one, or none, is
    /// active in its place.
    pub fn has_damaged_slot(&self) -> bool {
        self.slots.found.contains(&SlotState::Damaged)
    }

    /// The upload under way.
    pub fn staged(&self) -> Option<StagedProgramme> {
        self.slots.staged
    }

    /// Copies bytes of the active programme from an offset on; returns how many.
    ///
    /// # Errors
    /// [`StoreError::NoProgramme`], or the flash's error.
    pub fn read_programme(
        &mut self,
        offset: u16,
        into: &mut [u8],
    ) -> Result<usize, StoreError> {
        let (side, header) = self.slots.active.ok_or(StoreError::NoProgramme)?;
        let region = side.of(self.layout.slots);
        read_body(&mut self.flash, region, header.bytes, offset, into)
    }

    /// As [`Self::read_programme`], of the upload under way.
    ///
    /// # Errors
    /// [`StoreError::NoUpload`], or the flash's error.
    pub fn read_staged(&mut self, offset: u16, into: &mut [u8]) -> Result<usize, StoreError> {
        let staged = self.slots.staged.ok_or(StoreError::NoUpload)?;
        let region = self.slots.passive().of(self.layout.slots);
        read_body(&mut self.flash, region, staged.written, offset, into)
    }

    /// Begins the upload of a programme of this length, which aborts one under way. Erases the
    /// inactive slot; the active programme is not touched.
    ///
    /// # Errors
    /// [`StoreError::BadLength`] for none or more than [`IMAGE_BYTES_MAX`], or what the flash
    /// says.
    pub fn begin_upload(&mut self, bytes: u16) -> Result<(), StoreError> {
        self.slots.staged = None;
        if !(1..=IMAGE_BYTES_MAX).contains(&usize::from(bytes)) {
            return Err(StoreError::BadLength);
        }
        // Erase even a slot that reads blank: after an interrupted erase that may not last.
        self.flash.erase(self.slots.passive().of(self.layout.slots))?;
        self.slots.staged = Some(StagedProgramme { bytes, written: 0 });
        Ok(())
    }

    /// Writes the next chunk. All but the last are multiples of 16 bytes.
    ///
    /// # Errors
    /// [`StoreError::NoUpload`]; [`StoreError::OutOfOrder`] and [`StoreError::BadLength`] change
    /// nothing; any other error aborts the upload.
    pub fn write_chunk(&mut self, offset: u16, data: &[u8]) -> Result<(), StoreError> {
        let staged = self.slots.staged.ok_or(StoreError::NoUpload)?;
        if offset != staged.written {
            return Err(StoreError::OutOfOrder { expected: staged.written });
        }
        let length = u16::try_from(data.len()).map_err(|_| StoreError::BadLength)?;
        let end = offset.checked_add(length).ok_or(StoreError::BadLength)?;
        let whole = end == staged.bytes || length.is_multiple_of(BLOCK_BYTES);
        if end > staged.bytes || !whole {
            return Err(StoreError::BadLength);
        }
        // A block whose write failed cannot be written a second time.
        self.slots.staged = None;
        let region = self.slots.passive().of(self.layout.slots);
        let first = BODY_BLOCK.saturating_add(u32::from(offset / BLOCK_BYTES));
        self.flash.write_from(region, first, data)?;
        self.slots.staged = Some(StagedProgramme { written: end, ..staged });
        Ok(())
    }

    /// Makes the upload the active programme, if its bytes in flash have this digest. If the active
    /// programme has this digest already, it only aborts the upload, so that a commit whose answer was
    /// lost can be repeated.
    ///
    /// # Errors
    /// [`StoreError::NoUpload`]; [`StoreError::Incomplete`] and [`StoreError::DigestMismatch`]
    /// change nothing. Any other error aborts the upload and the old programme stays active, also after
    /// the next boot, except that [`StoreError::ActiveUnknown`] leaves that open.
    pub fn commit(&mut self, digest: &[u8; DIGEST_BYTES]) -> Result<(), StoreError> {
        if self.active().is_some_and(|active| active.digest == *digest) {
            self.abort_upload();
            return Ok(());
        }
        let staged = self.slots.staged.ok_or(StoreError::NoUpload)?;
        if staged.written != staged.bytes {
            return Err(StoreError::Incomplete { written: staged.written });
        }
        let side = self.slots.passive();
        let region = side.of(self.layout.slots);
        if digest_of(&mut self.flash, region, staged.bytes)? != *digest {
            return Err(StoreError::DigestMismatch);
        }
        self.slots.staged = None;
        let sequence = self.slots.newest.wrapping_add(1);
        let header = ProgrammeHeader { digest: *digest, bytes: staged.bytes, sequence };
        if let Err(why) = self.write_header(region, &header) {
            // The header may be intact in spite of the error. A reported failure must leave the old
            // programme active after the next boot, so erase the slot; if that fails and the
            // header is intact, the commit has succeeded.
            let undone = self.flash.erase(region).is_ok();
            if undone
                || !self
                    .is_valid_in_flash(region, &header)
                    .map_err(|_| StoreError::ActiveUnknown)?
            {
                return Err(why);
            }
        }
        self.slots.active = Some((side, header));
        self.slots.newest = sequence;
        Ok(())
    }

    /// Writes a header and inspects the slot as the next boot will.
    fn write_header(
        &mut self,
        region: Region,
        header: &ProgrammeHeader,
    ) -> Result<(), StoreError> {
        self.flash.write_from(region, 0, &header.encode())?;
        if self.is_valid_in_flash(region, header)? {
            Ok(())
        } else {
            Err(StoreError::VerifyFailed { at: region.at })
        }
    }

    /// Whether the next boot will find this header with its programme in the slot.
    #[inline(never)]
    fn is_valid_in_flash(
        &mut self,
        region: Region,
        header: &ProgrammeHeader,
    ) -> Result<bool, StoreError> {
        Ok(inspect(&mut self.flash, region)?.whole().is_some_and(|there| there == *header))
    }

    /// Aborts the upload under way.
    pub fn abort_upload(&mut self) {
        self.slots.staged = None;
    }
}
