//! Layout of the flash, and the check that a flash can carry it.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::IMAGE_BYTES_MAX;

use super::blocks::BLOCK_BYTES;
use super::error::StoreError;
use super::header::HEADER_BYTES;
use super::region::Region;

/// Most bytes of the settings.
pub const SETTINGS_BYTES_MAX: usize = 768;

/// Layout of the flash. Regions may not overlap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Layout {
    /// Two slots for programmes, each of at least [`HEADER_BYTES`] + [`IMAGE_BYTES_MAX`] bytes.
    pub slots: [Region; 2],
    /// Two regions for the journal; one sector each is enough.
    pub journal: [Region; 2],
    /// The settings: at least 16 + [`SETTINGS_BYTES_MAX`] bytes.
    pub settings: Region,
}

/// Minimum size of a journal region (bytes): the records that a rotation carries over, and one more.
const JOURNAL_BYTES_MIN: usize = 5 * BLOCK_BYTES as usize;

/// One of two regions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    First,
    Second,
}

impl Side {
    pub(super) const fn other(self) -> Self {
        match self {
            Self::First => Self::Second,
            Self::Second => Self::First,
        }
    }

    pub(super) fn of<T>(self, pair: [T; 2]) -> T {
        let [first, second] = pair;
        match self {
            Self::First => first,
            Self::Second => second,
        }
    }
}

impl Layout {
    /// Whether a flash can carry this layout.
    pub(super) fn check<F: NorFlash>(&self, flash: &F) -> Result<(), StoreError> {
        let block = usize::from(BLOCK_BYTES);
        let fits = |size: usize| (1..=block).contains(&size) && block.is_multiple_of(size);
        let sector = u32::try_from(F::ERASE_SIZE).unwrap_or(0);
        let sectors_fit = sector > 0 && sector.is_multiple_of(u32::from(BLOCK_BYTES));
        if !(fits(F::WRITE_SIZE) && fits(F::READ_SIZE) && sectors_fit) {
            return Err(StoreError::Granularity);
        }
        let [slot, other_slot] = self.slots;
        let [journal, other_journal] = self.journal;
        let slot_min = HEADER_BYTES.saturating_add(IMAGE_BYTES_MAX);
        let settings_min = SETTINGS_BYTES_MAX.saturating_add(block);
        let all = [
            (slot, slot_min),
            (other_slot, slot_min),
            (journal, JOURNAL_BYTES_MIN),
            (other_journal, JOURNAL_BYTES_MIN),
            (self.settings, settings_min),
        ];
        let capacity = flash.capacity();
        let mut rest = all.iter();
        while let Some((region, bytes_min)) = rest.next() {
            let apart = rest.clone().all(|(other, _)| region.is_apart_from(other));
            if !(apart && region.fits(sector, *bytes_min, capacity)) {
                return Err(StoreError::Layout(*region));
            }
        }
        Ok(())
    }
}
