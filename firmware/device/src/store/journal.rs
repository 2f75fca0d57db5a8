//! The journal: an append-only list of records in two regions used in turn, and the boot number.
//!
//! A record's sequence number is that of the region's first record plus its index, so that a record
//! that was torn or has decayed still uses up its number. A boot number is the sequence number of its
//! record, which is why none comes twice.

use embedded_storage::nor_flash::NorFlash;

use super::blocks::{BLANK_BLOCK, BlockFlash, copy_into};
use super::error::StoreError;
use super::layout::Side;
use super::record_format::{JournalRecord, KIND_BASE, SequencedRecord};
use super::region::Region;

/// State of the journal in memory.
pub(super) struct Journal {
    pub(super) side: Side,
    /// Index of the next free block on that side; one past the last if it is full.
    pub(super) index: u32,
    /// Sequence number of the next record.
    pub(super) next: u32,
    pub(super) boot: u32,
    /// Nothing can be read and something was there, so the last sequence number is unknown.
    pub(super) lost: bool,
}

/// Result of scanning a region.
#[derive(Clone, Copy)]
struct Scan {
    /// Sequence number of the first block.
    base: Option<u32>,
    /// Blocks up to the last that is not blank.
    used: u32,
    boot: u32,
}

/// The record in a block and the sequence number of the region's first, unless the record belongs at
/// another index.
pub(super) fn read_record<F: NorFlash>(
    flash: &mut BlockFlash<F>,
    region: Region,
    index: u32,
    base: Option<u32>,
) -> Result<Option<(SequencedRecord, u32)>, StoreError> {
    let found = SequencedRecord::decode(&flash.read(region, index)?);
    let placed = found.and_then(|entry| {
        let first = entry.sequence.checked_sub(index)?;
        base.is_none_or(|base| base == first).then_some((entry, first))
    });
    Ok(placed)
}

fn scan<F: NorFlash>(flash: &mut BlockFlash<F>, region: Region) -> Result<Scan, StoreError> {
    let mut scan = Scan { base: None, used: 0, boot: 0 };
    for index in 0..region.block_count() {
        if flash.read(region, index)? == BLANK_BLOCK {
            continue;
        }
        scan.used = index.saturating_add(1);
        if let Some((entry, first)) = read_record(flash, region, index, scan.base)? {
            scan.base = Some(first);
            scan.boot = entry.boot().unwrap_or(scan.boot);
        }
    }
    Ok(scan)
}

impl Journal {
    pub(super) fn open<F: NorFlash>(
        flash: &mut BlockFlash<F>,
        regions: [Region; 2],
    ) -> Result<Self, StoreError> {
        let [first, second] = regions;
        let scans = [scan(flash, first)?, scan(flash, second)?];
        let [a, b] = scans;
        // `None` sorts before any number.
        let side = if a.base > b.base { Side::First } else { Side::Second };
        let now = side.of(scans);
        let Some(base) = now.base else {
            // New flash, or the very first record was torn: treat the second region as full.
            let lost = a.used > 1 || b.used > 0;
            return Ok(Self { side, index: second.block_count(), next: 1, boot: 0, lost });
        };
        let next = base.saturating_add(now.used);
        let boot = if now.boot > 0 { now.boot } else { side.other().of(scans).boot };
        Ok(Self { side, index: now.used, next, boot, lost: false })
    }

    /// Appends a record and returns its sequence number.
    pub(super) fn append<F: NorFlash>(
        &mut self,
        flash: &mut BlockFlash<F>,
        regions: [Region; 2],
        record: JournalRecord,
    ) -> Result<u32, StoreError> {
        if self.lost {
            return Err(StoreError::JournalLost);
        }
        if self.index >= self.side.of(regions).block_count() {
            self.rotate(flash, regions)?;
        }
        let (sequence, index) = (self.next, self.index);
        // A failed write uses up the block all the same.
        self.next = sequence.checked_add(1).ok_or(StoreError::JournalExhausted)?;
        self.index = index.saturating_add(1);
        let block = SequencedRecord { sequence, record }.encode();
        flash.write(self.side.of(regions), index, &block)?;
        Ok(sequence)
    }

    /// Erases the other region and continues there.
    pub(super) fn rotate<F: NorFlash>(
        &mut self,
        flash: &mut BlockFlash<F>,
        regions: [Region; 2],
    ) -> Result<(), StoreError> {
        let region = self.side.other().of(regions);
        let scan = scan(flash, region)?;
        // Unreadable records may have had the next numbers: skip as many.
        let unread =
            if scan.base.is_none() && scan.used > 0 { region.block_count() } else { 0 };
        let first = self.next.checked_add(unread).ok_or(StoreError::JournalExhausted)?;
        if scan.used > 0 {
            flash.erase(region)?;
        }
        self.start_region(flash, regions, self.side.other(), first)
    }

    /// Writes the first record of a blank region, from which its sequence numbers count.
    pub(super) fn start_region<F: NorFlash>(
        &mut self,
        flash: &mut BlockFlash<F>,
        regions: [Region; 2],
        side: Side,
        first: u32,
    ) -> Result<(), StoreError> {
        let next = first.checked_add(1).ok_or(StoreError::JournalExhausted)?;
        let mut record = JournalRecord { kind: KIND_BASE, data: [0; 7] };
        copy_into(&mut record.data, self.boot.to_le_bytes());
        flash.write(
            side.of(regions),
            0,
            &SequencedRecord { sequence: first, record }.encode(),
        )?;
        *self = Self { side, index: 1, next, boot: self.boot, lost: false };
        Ok(())
    }
}
