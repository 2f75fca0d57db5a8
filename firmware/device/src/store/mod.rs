//! What outlives a loss of power: the programme, the journal, the settings, in NOR flash that
//! may lose its power at any byte.
//!
//! [`Store::open`] looks at everything once. A programme comes in pieces into the slot that is
//! not active and becomes the active one by its header, which is written last. The journal is
//! only ever added to. Nothing that flash can hold makes the store panic or run for ever; it
//! makes an error, or nothing is there.

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

/// Programmes, journal and settings in a flash.
pub struct Store<F> {
    flash: blocks::BlockFlash<F>,
    layout: Layout,
    slots: slots::Slots,
    journal: journal::Journal,
}

impl<F: NorFlash> Store<F> {
    /// Looks at everything that is in flash and erases the half programme that a cut left. The
    /// flash may be a `&mut` of one.
    ///
    /// # Errors
    /// [`StoreError::Granularity`], [`StoreError::Layout`], or what the flash says.
    #[inline(never)]
    pub fn open(flash: F, layout: Layout) -> Result<Self, StoreError> {
        layout.check(&flash)?;
        let mut flash = blocks::BlockFlash(flash);
        let slots = slots::Slots::open(&mut flash, layout.slots)?;
        let journal = journal::Journal::open(&mut flash, layout.journal)?;
        Ok(Self { flash, layout, slots, journal })
    }
}
