//! The store's journal: append, read, count boots.

use embedded_storage::nor_flash::NorFlash;

use super::Store;
use super::error::StoreError;
use super::journal::read_record;
use super::layout::Side;
use super::record_format::{JournalRecord, KIND_BOOT, RESERVED_KINDS, StoredRecord};

impl<F: NorFlash> Store<F> {
    /// Appends a record to the journal; the oldest are erased a region at a time.
    ///
    /// # Errors
    /// [`StoreError::BadKind`] for a reserved kind, [`StoreError::JournalLost`],
    /// [`StoreError::JournalExhausted`], or the flash's error.
    pub fn append_record(&mut self, record: &JournalRecord) -> Result<(), StoreError> {
        if record.kind >= RESERVED_KINDS {
            return Err(StoreError::BadKind);
        }
        self.journal.append(&mut self.flash, self.layout.journal, *record).map(|_| ())
    }

    /// Counts this boot and returns its number, which is in flash by then, so that no two boots ever
    /// have the same. Numbers rise, with gaps.
    ///
    /// # Errors
    /// As [`Self::append_record`].
    pub fn count_boot(&mut self) -> Result<u32, StoreError> {
        let record = JournalRecord { kind: KIND_BOOT, data: [0; 7] };
        let boot = self.journal.append(&mut self.flash, self.layout.journal, record)?;
        self.journal.boot = boot;
        Ok(boot)
    }

    /// Copies records from a sequence number on, oldest first; returns how many. To continue, call it
    /// again with the last one's sequence number plus one.
    ///
    /// # Errors
    /// The flash's error.
    pub fn read_records(
        &mut self,
        from: u32,
        into: &mut [StoredRecord],
    ) -> Result<usize, StoreError> {
        let size = into.len();
        let mut free = into.iter_mut();
        self.for_each_record(from, |record| match free.next() {
            Some(place) => {
                *place = record;
                true
            }
            None => false,
        })?;
        Ok(size.saturating_sub(free.len()))
    }

    /// Calls `visit` with each record from a sequence number on, oldest first, until it returns false.
    ///
    /// # Errors
    /// The flash's error.
    pub fn for_each_record(
        &mut self,
        from: u32,
        mut visit: impl FnMut(StoredRecord) -> bool,
    ) -> Result<(), StoreError> {
        let side = self.journal.side;
        let mut sequence_min = from;
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
                if entry.record.kind >= RESERVED_KINDS || entry.sequence < sequence_min {
                    continue;
                }
                if !visit(StoredRecord { sequence: entry.sequence, boot, record: entry.record })
                {
                    return Ok(());
                }
                sequence_min = entry.sequence.saturating_add(1);
            }
        }
        Ok(())
    }

    /// Sequence number of the next record.
    pub fn next_sequence(&self) -> u32 {
        self.journal.next
    }

    /// Records that a region holds.
    pub fn journal_capacity(&self) -> u32 {
        self.journal.side.of(self.layout.journal).block_count()
    }

    /// Records that can be appended before a region has to be erased.
    pub fn journal_free(&self) -> u32 {
        self.journal_capacity().saturating_sub(self.journal.index)
    }

    /// Erases the other region and continues there: to be called while there is time for it.
    ///
    /// # Errors
    /// As [`Self::append_record`].
    pub fn rotate_journal(&mut self) -> Result<(), StoreError> {
        if self.journal.lost {
            return Err(StoreError::JournalLost);
        }
        self.journal.rotate(&mut self.flash, self.layout.journal)
    }

    /// Whether the journal cannot be read, so that nothing can be appended and no boot counted.
    pub fn journal_lost(&self) -> bool {
        self.journal.lost
    }

    /// Resets a lost journal to a sequence number, which must be above all earlier boot numbers. Only to
    /// be called by an action at the device. Does nothing to a readable journal.
    ///
    /// # Errors
    /// [`StoreError::JournalExhausted`], or the flash's error.
    pub fn reset_journal(&mut self, first: u32) -> Result<(), StoreError> {
        if !self.journal.lost {
            return Ok(());
        }
        // Until the first record is written, the other region still shows that the journal was lost.
        let regions = self.layout.journal;
        let blank = self.flash.is_blank(Side::Second.of(regions))?;
        let side = if blank { Side::Second } else { Side::First };
        self.flash.erase(side.of(regions))?;
        self.journal.start_region(&mut self.flash, regions, side, first)
    }
}
