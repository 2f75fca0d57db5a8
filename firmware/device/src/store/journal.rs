//! The journal: lines that are only ever added, in two regions used in turn, and the count of
//! boots.
//!
//! A line's sequence number is that of the region's first line plus its place, so that a line
//! that was cut or has decayed keeps its number for ever. A boot's number is the sequence number
//! of its line: nothing has to be carried over for it never to come twice.

use embedded_storage::nor_flash::NorFlash;

use super::blocks::{BLANK_BLOCK, BlockFlash, copy_into};
use super::error::StoreError;
use super::layout::Side;
use super::record_format::{JournalRecord, KIND_BASE, SequencedRecord};
use super::region::Region;

/// What is remembered of the journal.
pub(super) struct Journal {
    pub(super) side: Side,
    /// The next free line of that side; behind the last if it is full.
    pub(super) index: u32,
    /// The sequence number of that line.
    pub(super) next: u32,
    pub(super) boot: u32,
    /// Nothing can be read and something was there: where the numbers stood is not known.
    pub(super) lost: bool,
}

/// What is in a region.
#[derive(Clone, Copy)]
struct Scan {
    /// Sequence number of the first line.
    base: Option<u32>,
    /// Lines up to the last that is not blank.
    used: u32,
    boot: u32,
}

/// The entry in a line, if it stands where its number says.
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
        // Nothing sorts before everything.
        let side = if a.base > b.base { Side::First } else { Side::Second };
        let now = side.of(scans);
        let Some(base) = now.base else {
            // A new flash, or one whose first line was cut: as if the second region were full.
            let lost = a.used > 1 || b.used > 0;
            return Ok(Self { side, index: second.block_count(), next: 1, boot: 0, lost });
        };
        let next = base.saturating_add(now.used);
        let boot = if now.boot > 0 { now.boot } else { side.other().of(scans).boot };
        Ok(Self { side, index: now.used, next, boot, lost: false })
    }

    /// Adds a line and returns its number.
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
        // A line that fails is used up all the same.
        self.next = sequence.checked_add(1).ok_or(StoreError::JournalExhausted)?;
        self.index = index.saturating_add(1);
        let line = SequencedRecord { sequence, record }.encode();
        flash.write(self.side.of(regions), index, &line)?;
        Ok(sequence)
    }

    /// Goes on in the other region, which loses what it had.
    pub(super) fn rotate<F: NorFlash>(
        &mut self,
        flash: &mut BlockFlash<F>,
        regions: [Region; 2],
    ) -> Result<(), StoreError> {
        let region = self.side.other().of(regions);
        let scan = scan(flash, region)?;
        // Lines that nobody can read any more may have had numbers: leave them out.
        let unread =
            if scan.base.is_none() && scan.used > 0 { region.block_count() } else { 0 };
        let first = self.next.checked_add(unread).ok_or(StoreError::JournalExhausted)?;
        if scan.used > 0 {
            flash.erase(region)?;
        }
        self.start_region(flash, regions, self.side.other(), first)
    }

    /// Writes the first line of a blank region, from which the region counts.
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
