//! What a device does with its programmes.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};

use super::Store;
use super::blocks::BLOCK_BYTES;
use super::error::StoreError;
use super::header::ProgrammeHeader;
use super::region::Region;
use super::slots::{BODY_BLOCK, SlotState, StagedProgramme, digest_of, inspect, read_body};

impl<F: NorFlash> Store<F> {
    /// The programme that is valid.
    pub fn active(&self) -> Option<ProgrammeHeader> {
        self.slots.active.map(|(_, header)| header)
    }

    /// What [`Self::open`] found in the two slots, in the order of the layout.
    pub fn slot_states(&self) -> [SlotState; 2] {
        self.slots.found
    }

    /// Whether [`Self::open`] found that a committed programme has changed in flash, so that an
    /// older one, or none, is active in its place.
    pub fn has_damaged_slot(&self) -> bool {
        self.slots.found.contains(&SlotState::Damaged)
    }

    /// The programme that is on its way, if one is.
    pub fn staged(&self) -> Option<StagedProgramme> {
        self.slots.staged
    }

    /// Copies bytes of the active programme from an offset on; returns how many there were.
    ///
    /// # Errors
    /// [`StoreError::NoProgramme`], or what the flash says.
    pub fn read_programme(
        &mut self,
        offset: u16,
        into: &mut [u8],
    ) -> Result<usize, StoreError> {
        let (side, header) = self.slots.active.ok_or(StoreError::NoProgramme)?;
        let region = side.of(self.layout.slots);
        read_body(&mut self.flash, region, header.bytes, offset, into)
    }

    /// As [`Self::read_programme`], of what is on its way.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`], or what the flash says.
    pub fn read_staged(&mut self, offset: u16, into: &mut [u8]) -> Result<usize, StoreError> {
        let staged = self.slots.staged.ok_or(StoreError::NoUpload)?;
        let region = self.slots.passive().of(self.layout.slots);
        read_body(&mut self.flash, region, staged.written, offset, into)
    }

    /// Makes room for a programme of this length and gives up one that was on its way. The
    /// active programme is not touched.
    ///
    /// # Errors
    /// [`StoreError::BadLength`] for none or more than [`IMAGE_BYTES_MAX`], or what the flash
    /// says.
    pub fn begin_upload(&mut self, bytes: u16) -> Result<(), StoreError> {
        self.slots.staged = None;
        if !(1..=IMAGE_BYTES_MAX).contains(&usize::from(bytes)) {
            return Err(StoreError::BadLength);
        }
        // Even a slot that reads blank: the erase before may have been cut, and what reads as
        // erased then need not stay so.
        self.flash.erase(self.slots.passive().of(self.layout.slots))?;
        self.slots.staged = Some(StagedProgramme { bytes, written: 0 });
        Ok(())
    }

    /// Writes the next bytes. All pieces but the last are whole multiples of 16 bytes.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`]; [`StoreError::OutOfOrder`] and [`StoreError::BadLength`] change
    /// nothing; after any other error the upload must begin anew.
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
        // A line that failed half-way cannot be written a second time.
        self.slots.staged = None;
        let region = self.slots.passive().of(self.layout.slots);
        let first = BODY_BLOCK.saturating_add(u32::from(offset / BLOCK_BYTES));
        self.flash.write_from(region, first, data)?;
        self.slots.staged = Some(StagedProgramme { written: end, ..staged });
        Ok(())
    }

    /// Makes what was written the active programme, if its bytes in flash have this digest. For
    /// the digest of the active programme it does nothing but give up what is on its way, so
    /// that a commit whose answer was lost can be repeated.
    ///
    /// # Errors
    /// [`StoreError::NotBegun`]; [`StoreError::Incomplete`] and [`StoreError::OtherDigest`]
    /// change nothing; after any other error the upload must begin anew, and the programme
    /// before is active, but for [`StoreError::Undecided`] also after the next start.
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
            return Err(StoreError::OtherDigest);
        }
        self.slots.staged = None;
        let sequence = self.slots.newest.wrapping_add(1);
        let header = ProgrammeHeader { digest: *digest, bytes: staged.bytes, sequence };
        if let Err(why) = self.write_header(region, &header) {
            // Perhaps the header is whole all the same. Who is told of a failure must find the
            // old programme after the next start; where the flash does not give the new one up,
            // it is committed.
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

    /// Writes a header and looks at the slot as the next start will.
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

    /// The next start will find this header with its programme in a slot.
    #[inline(never)]
    fn is_valid_in_flash(
        &mut self,
        region: Region,
        header: &ProgrammeHeader,
    ) -> Result<bool, StoreError> {
        Ok(inspect(&mut self.flash, region)?.whole().is_some_and(|there| there == *header))
    }

    /// Gives up what is on its way.
    pub fn abort_upload(&mut self) {
        self.slots.staged = None;
    }
}
