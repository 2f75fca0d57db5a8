//! Programme, journal and settings in NOR flash that may lose power at any byte.
//!
//! [`Store::open`] scans everything once. A programme is written in chunks into the inactive slot and
//! becomes the active one by its header, which is written last. The journal is append-only. No
//! content of the flash makes the store panic or loop for ever: unreadable data are an error, or
//! count as absent.

mod blocks;
mod error;
mod header;
mod journal;
mod layout;
mod programmes;
mod record_format;
mod records;
mod region;
mod settings;
mod slots;

use embedded_storage::nor_flash::NorFlash;

pub use error::StoreError;
pub use header::{HEADER_BYTES, ProgrammeHeader};
pub use layout::{Layout, SETTINGS_BYTES_MAX};
pub use record_format::{JournalRecord, RESERVED_KINDS, StoredRecord};
pub use region::Region;
pub use slots::{SlotState, StagedProgramme};

/// Programmes, journal and settings in one flash.
pub struct Store<F> {
    flash: blocks::BlockFlash<F>,
    layout: Layout,
    slots: slots::Slots,
    journal: journal::Journal,
}

impl<F: NorFlash> Store<F> {
    /// Scans the flash, and erases what a power failure has left of an upload. The flash may be passed
    /// as `&mut`.
    ///
    /// # Errors
    /// [`StoreError::Granularity`], [`StoreError::Layout`], or the flash's error.
    #[inline(never)]
    pub fn open(flash: F, layout: Layout) -> Result<Self, StoreError> {
        layout.check(&flash)?;
        let mut flash = blocks::BlockFlash(flash);
        let slots = slots::Slots::open(&mut flash, layout.slots)?;
        let journal = journal::Journal::open(&mut flash, layout.journal)?;
        Ok(Self { flash, layout, slots, journal })
    }
}
