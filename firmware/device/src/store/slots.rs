//! Two slots for programmes. The active one is never touched; the other takes the next programme and
//! becomes active by its header, which is written last.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::DIGEST_BYTES;
use sha2::{Digest, Sha256};

use super::blocks::{BLOCK_BYTES, BlockFlash};
use super::error::StoreError;
use super::header::{HEADER_BYTES, ProgrammeHeader};
use super::layout::Side;
use super::region::Region;

/// The block at which the programme begins.
pub(super) const BODY_BLOCK: u32 = 3;
const _: () = assert!(BODY_BLOCK as usize * BLOCK_BYTES as usize == HEADER_BYTES);

/// What [`Store::open`](super::Store::open) found in a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SlotState {
    /// Erased.
    Blank,
    /// A programme that has its digest.
    Valid,
    /// The remains of an interrupted upload, which were erased.
    Torn,
    /// The remains of an interrupted upload, which the flash failed to erase.
    Stuck,
    /// A committed programme, newer than any valid one, whose bytes have changed since. It is kept
    /// until the next upload.
    Damaged,
}

/// An upload under way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StagedProgramme {
    /// Length of the programme in bytes.
    pub bytes: u16,
    /// Bytes of it that are in flash.
    pub written: u16,
}

/// Contents of a slot.
#[derive(Clone, Copy)]
pub(super) enum SlotContents {
    Blank,
    Valid(ProgrammeHeader),
    /// The header is intact, but the bytes do not have its digest.
    Mismatched(ProgrammeHeader),
    Torn,
}

impl SlotContents {
    const fn header(&self) -> Option<ProgrammeHeader> {
        match self {
            Self::Valid(header) | Self::Mismatched(header) => Some(*header),
            Self::Blank | Self::Torn => None,
        }
    }

    pub(super) const fn whole(&self) -> Option<ProgrammeHeader> {
        match self {
            Self::Valid(header) => Some(*header),
            Self::Blank | Self::Mismatched(_) | Self::Torn => None,
        }
    }
}

/// State of the slots in memory.
pub(super) struct Slots {
    pub(super) active: Option<(Side, ProgrammeHeader)>,
    pub(super) found: [SlotState; 2],
    /// Sequence number of the newest readable header; 0 if none.
    pub(super) newest: u32,
    pub(super) staged: Option<StagedProgramme>,
}

impl Slots {
    /// Inspects both slots and erases the remains of an interrupted upload.
    pub(super) fn open<F: NorFlash>(
        flash: &mut BlockFlash<F>,
        [first, second]: [Region; 2],
    ) -> Result<Self, StoreError> {
        let contents = [inspect(flash, first)?, inspect(flash, second)?];
        let [a, b] = contents;
        let active = newest_of(a.whole(), b.whole());
        let newest = newest_of(a.header(), b.header()).map_or(0, |(_, newest)| newest.sequence);
        let whole = active.map(|(_, header)| header);
        let found = [repair(flash, first, a, whole), repair(flash, second, b, whole)];
        Ok(Self { active, found, newest, staged: None })
    }

    /// The slot for the next programme.
    pub(super) const fn passive(&self) -> Side {
        match self.active {
            Some((side, _)) => side.other(),
            None => Side::First,
        }
    }
}

/// The later of two headers, and which slot it is in.
fn newest_of(
    first: Option<ProgrammeHeader>,
    second: Option<ProgrammeHeader>,
) -> Option<(Side, ProgrammeHeader)> {
    match (first, second) {
        (Some(a), Some(b)) if b.is_later_than(&a) => Some((Side::Second, b)),
        (Some(a), _) => Some((Side::First, a)),
        (None, b) => b.map(|b| (Side::Second, b)),
    }
}

/// Erases a slot that needs it. A failure is only reported, since it must not keep a valid programme
/// from being used.
fn repair<F: NorFlash>(
    flash: &mut BlockFlash<F>,
    region: Region,
    contents: SlotContents,
    whole: Option<ProgrammeHeader>,
) -> SlotState {
    match contents {
        SlotContents::Blank => return SlotState::Blank,
        SlotContents::Valid(_) => return SlotState::Valid,
        // An interrupted erase at the start of an upload can only damage the older of two programmes.
        SlotContents::Mismatched(header)
            if whole.is_none_or(|whole| !whole.is_later_than(&header)) =>
        {
            return SlotState::Damaged;
        }
        SlotContents::Mismatched(_) | SlotContents::Torn => {}
    }
    if flash.erase(region).is_ok() { SlotState::Torn } else { SlotState::Stuck }
}

pub(super) fn inspect<F: NorFlash>(
    flash: &mut BlockFlash<F>,
    region: Region,
) -> Result<SlotContents, StoreError> {
    let blocks = [flash.read(region, 0)?, flash.read(region, 1)?, flash.read(region, 2)?];
    let bytes = blocks.as_flattened().first_chunk();
    let Some(header) = bytes.and_then(ProgrammeHeader::decode) else {
        let blank = flash.is_blank(region)?;
        return Ok(if blank { SlotContents::Blank } else { SlotContents::Torn });
    };
    let same = digest_of(flash, region, header.bytes)? == header.digest;
    Ok(if same { SlotContents::Valid(header) } else { SlotContents::Mismatched(header) })
}

/// SHA-256 of a programme in flash.
pub(super) fn digest_of<F: NorFlash>(
    flash: &mut BlockFlash<F>,
    region: Region,
    bytes: u16,
) -> Result<[u8; DIGEST_BYTES], StoreError> {
    let mut hash = Sha256::new();
    let mut left = bytes;
    let mut index = BODY_BLOCK;
    while left > 0 {
        let block = flash.read(region, index)?;
        let chunk = block.get(..usize::from(left.min(BLOCK_BYTES))).unwrap_or(&block);
        hash.update(chunk);
        left = left.saturating_sub(BLOCK_BYTES);
        index = index.saturating_add(1);
    }
    Ok(hash.finalize().into())
}

/// Copies bytes of a programme; returns how many.
pub(super) fn read_body<F: NorFlash>(
    flash: &mut BlockFlash<F>,
    region: Region,
    bytes: u16,
    offset: u16,
    into: &mut [u8],
) -> Result<usize, StoreError> {
    let count = usize::from(bytes.saturating_sub(offset)).min(into.len());
    let mut free = into.iter_mut().take(count);
    let mut index = BODY_BLOCK.saturating_add(u32::from(offset / BLOCK_BYTES));
    let mut skip = usize::from(offset % BLOCK_BYTES);
    while free.len() > 0 {
        let block = flash.read(region, index)?;
        for (from, to) in block.iter().skip(skip).zip(free.by_ref()) {
            *to = *from;
        }
        skip = 0;
        index = index.saturating_add(1);
    }
    Ok(count)
}
