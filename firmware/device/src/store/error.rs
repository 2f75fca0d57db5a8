//! Why the store did not do what it was asked for.

use embedded_storage::nor_flash::NorFlashErrorKind;

use super::region::Region;

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
    VerifyFailed {
        /// First byte of the line or region.
        at: u32,
    },
    /// There is no active programme.
    NoProgramme,
    /// No programme is on its way: begin one.
    NoUpload,
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
    ActiveUnknown,
    /// The kind of a record is one of the store's own, [`KINDS`](super::KINDS) or above.
    BadKind,
    /// The journal cannot be read. A person at the device may begin it anew.
    JournalLost,
    /// The journal has used up its sequence numbers.
    JournalExhausted,
    /// No settings were ever written.
    NoSettings,
    /// The settings were not written to the end, or have changed.
    SettingsDamaged,
}
