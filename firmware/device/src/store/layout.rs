//! Where in the flash what lies, and whether the flash can do it.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::programme::IMAGE_BYTES_MAX;

use super::blocks::BLOCK_BYTES;
use super::error::StoreError;
use super::header::HEADER_BYTES;
use super::region::Region;

/// Most bytes of the settings.
pub const SETTINGS_BYTES_MAX: usize = 768;

/// Where in the flash what lies. Regions may not overlap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Layout {
    /// The programme that is valid, and room for the next: each at least [`HEADER_BYTES`] and
    /// [`IMAGE_BYTES_MAX`] bytes.
    pub slots: [Region; 2],
    /// The journal; one sector each is enough.
    pub journal: [Region; 2],
    /// The settings: at least 16 and [`SETTINGS_BYTES_MAX`] bytes.
    pub settings: Region,
}

/// Fewest bytes of a region of the journal: room for what a turn carries over, and for more.
const JOURNAL_BYTES_MIN: usize = 4 * BLOCK_BYTES as usize;

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
        let line = usize::from(BLOCK_BYTES);
        let fits = |size: usize| (1..=line).contains(&size) && line.is_multiple_of(size);
        let sector = u32::try_from(F::ERASE_SIZE).unwrap_or(0);
        let whole = sector > 0 && sector.is_multiple_of(u32::from(BLOCK_BYTES));
        if !(fits(F::WRITE_SIZE) && fits(F::READ_SIZE) && whole) {
            return Err(StoreError::Granularity);
        }
        let [slot, other_slot] = self.slots;
        let [journal, other_journal] = self.journal;
        let least_slot = HEADER_BYTES.saturating_add(IMAGE_BYTES_MAX);
        let least_settings = SETTINGS_BYTES_MAX.saturating_add(line);
        let all = [
            (slot, least_slot),
            (other_slot, least_slot),
            (journal, JOURNAL_BYTES_MIN),
            (other_journal, JOURNAL_BYTES_MIN),
            (self.settings, least_settings),
        ];
        let capacity = flash.capacity();
        let mut rest = all.iter();
        while let Some((region, least)) = rest.next() {
            let apart = rest.clone().all(|(other, _)| region.is_apart_from(other));
            if !(apart && region.is_good(sector, *least, capacity)) {
                return Err(StoreError::Layout(*region));
            }
        }
        Ok(())
    }
}
