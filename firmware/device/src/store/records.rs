//! What a device does with its journal.

use embedded_storage::nor_flash::NorFlash;

use super::Store;
use super::error::StoreError;
use super::journal::read_record;
use super::layout::Side;
use super::record_format::{JournalRecord, KIND_BOOT, RESERVED_KINDS, StoredRecord};

impl<F: NorFlash> Store<F> {
    /// Adds a record to the journal; the oldest are forgotten a region at a time.
    ///
    /// # Errors
    /// [`StoreError::BadKind`] for a kind of the store's own, [`StoreError::JournalLost`],
    /// [`StoreError::JournalSpent`], or what the flash says.
    pub fn append_record(&mut self, record: &JournalRecord) -> Result<(), StoreError> {
        if record.kind >= RESERVED_KINDS {
            return Err(StoreError::BadKind);
        }
        self.journal.append(&mut self.flash, self.layout.journal, *record).map(|_| ())
    }

    /// A number that no boot had before and none will have again: it is in flash before it is
    /// returned. Numbers grow, with gaps.
    ///
    /// # Errors
    /// As [`Self::tell`].
    pub fn count_boot(&mut self) -> Result<u32, StoreError> {
        let record = JournalRecord { kind: KIND_BOOT, data: [0; 7] };
        let boot = self.journal.append(&mut self.flash, self.layout.journal, record)?;
        self.journal.boot = boot;
        Ok(boot)
    }

    /// Copies records from a sequence number on, oldest first; returns how many there were. The
    /// next call goes on behind the last one's sequence number.
    ///
    /// # Errors
    /// What the flash says.
    pub fn read_records(
        &mut self,
        from: u32,
        into: &mut [StoredRecord],
    ) -> Result<usize, StoreError> {
        let size = into.len();
        let mut room = into.iter_mut();
        self.for_each_record(from, |told| match room.next() {
            Some(place) => {
                *place = told;
                true
            }
            None => false,
        })?;
        Ok(size.saturating_sub(room.len()))
    }

    /// Shows records from a sequence number on, oldest first, until `see` has seen enough.
    ///
    /// # Errors
    /// What the flash says.
    pub fn for_each_record(
        &mut self,
        from: u32,
        mut see: impl FnMut(StoredRecord) -> bool,
    ) -> Result<(), StoreError> {
        let side = self.journal.side;
        let mut least = from;
        for region in [side.other(), side].map(|side| side.of(self.layout.journal)) {
            let mut boot = 0;
            let mut base = None;
            for index in 0..region.block_count() {
                let Some((entry, first)) = read_record(&mut self.flash, region, index, base)?
                else {
                    continue;
                };
                base = Some(first);
                boot = entry.boot().unwrap_or(boot);
                if entry.record.kind >= RESERVED_KINDS || entry.sequence < least {
                    continue;
                }
                if !see(StoredRecord { sequence: entry.sequence, boot, record: entry.record }) {
                    return Ok(());
                }
                least = entry.sequence.saturating_add(1);
            }
        }
        Ok(())
    }

    /// The sequence number of the next line.
    pub fn next_sequence(&self) -> u32 {
        self.journal.next
    }

    /// Lines that a region has.
    pub fn journal_capacity(&self) -> u32 {
        self.journal.side.of(self.layout.journal).block_count()
    }

    /// Lines that can be told before a region has to be erased.
    pub fn journal_free(&self) -> u32 {
        self.journal_capacity().saturating_sub(self.journal.index)
    }

    /// Goes on in the other region now, while there is time for an erase.
    ///
    /// # Errors
    /// As [`Self::tell`].
    pub fn rotate_journal(&mut self) -> Result<(), StoreError> {
        if self.journal.lost {
            return Err(StoreError::JournalLost);
        }
        self.journal.rotate(&mut self.flash, self.layout.journal)
    }

    /// Whether the journal cannot be read, so that nothing can be told and no boot counted.
    pub fn journal_lost(&self) -> bool {
        self.journal.lost
    }

    /// Begins a journal that was lost anew, from a sequence number that must be above all that
    /// boots may have had. Only a person at the device may ask for it. Does nothing to a
    /// journal that can be read.
    ///
    /// # Errors
    /// [`StoreError::JournalSpent`], or what the flash says.
    pub fn reset_journal(&mut self, first: u32) -> Result<(), StoreError> {
        if !self.journal.lost {
            return Ok(());
        }
        // Until the first line stands, the other region keeps saying that numbers were lost.
        let regions = self.layout.journal;
        let blank = self.flash.is_blank(Side::Second.of(regions))?;
        let side = if blank { Side::Second } else { Side::First };
        self.flash.erase(side.of(regions))?;
        self.journal.start_region(&mut self.flash, regions, side, first)
    }
}
