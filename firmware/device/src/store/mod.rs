//! What outlives a loss of power: the programme, the journal, the settings, in NOR flash that
//! may lose its power at any byte.
//!
//! [`Store::open`] looks at everything once. A programme comes in pieces into the slot that is
//! not active and becomes the active one by its header, which is written last. The journal is
//! only ever added to. Nothing that flash can hold makes the store panic or run for ever; it
//! makes an error, or nothing is there.

mod entry;
mod header;
mod journal;
mod layout;
mod lines;
mod settings;
mod slots;

use embedded_storage::nor_flash::{NorFlash, NorFlashErrorKind};

pub use entry::{KINDS, Record, Told};
pub use header::{Active, HEADER_BYTES};
pub use layout::{Layout, Region};
pub use settings::SETTINGS_BYTES_MAX;
pub use slots::{Found, Staged};

/// Programmes, journal and settings in a flash.
pub struct Store<F> {
    flash: lines::Lines<F>,
    layout: Layout,
    slots: slots::Slots,
    journal: journal::Journal,
}

/// Why the store did not do what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StoreError {
    /// What the driver of the flash says.
    Flash(NorFlashErrorKind),
    /// The flash reads or writes in other units than 1, 2, 4, 8 or 16 bytes, or its sectors are
    /// no multiple of 16 bytes.
    Granularity,
    /// This region is too small, overlaps a later one, is not made of whole sectors or lies
    /// beyond the end of the flash.
    Layout(Region),
    /// At this address the flash does not hold what was written, or is not erased: it is worn
    /// or broken.
    NotKept {
        /// First byte of the line or region.
        at: u32,
    },
    /// There is no active programme.
    NoProgramme,
    /// No programme is on its way: begin one.
    NotBegun,
    /// None, too many, or, before the last piece, not a multiple of 16 bytes.
    BadLength,
    /// A piece is missing, or came twice.
    OutOfOrder {
        /// Offset of the next piece.
        expected: u16,
    },
    /// The programme is not all there.
    Incomplete {
        /// How many bytes are.
        written: u16,
    },
    /// What is in flash does not have the digest that it should have.
    OtherDigest,
    /// The flash neither took a new header nor gave it up, and cannot be read: which programme is
    /// the active one, the next start will see.
    Undecided,
    /// The kind of a record is one of the store's own, [`KINDS`] or above.
    BadKind,
    /// The journal cannot be read. A person at the device may begin it anew.
    JournalLost,
    /// The journal has used up its sequence numbers.
    JournalSpent,
    /// No settings were ever written.
    NoSettings,
    /// The settings were not written to the end, or have changed.
    SettingsDamaged,
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
        let mut flash = lines::Lines(flash);
        let slots = slots::Slots::open(&mut flash, layout.slots)?;
        let journal = journal::Journal::open(&mut flash, layout.journal)?;
        Ok(Self { flash, layout, slots, journal })
    }
}
