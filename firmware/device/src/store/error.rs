//! Errors of the store.

use embedded_storage::nor_flash::NorFlashErrorKind;

use super::region::Region;

/// Errors of the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StoreError {
    /// The flash driver's error.
    Flash(NorFlashErrorKind),
    /// The flash reads or writes in units other than 1, 2, 4, 8 or 16 bytes, or its sectors are no
    /// multiple of 16 bytes.
    Granularity,
    /// This region is too small, overlaps a later one, is not made of whole sectors, or reaches beyond
    /// the end of the flash.
    Layout(Region),
    /// At this address the flash does not hold what was written, or is not blank after an erase: it
    /// is worn or broken.
    VerifyFailed {
        /// First byte of the block or region.
        at: u32,
    },
    /// There is no active programme.
    NoProgramme,
    /// No upload was begun.
    NoUpload,
    /// No bytes, too many, or, before the last chunk, not a multiple of 16 bytes.
    BadLength,
    /// A chunk is missing, or came twice.
    OutOfOrder {
        /// Offset of the next chunk.
        expected: u16,
    },
    /// The upload is not complete.
    Incomplete {
        /// Bytes that are in flash.
        written: u16,
    },
    /// The bytes in flash do not have the digest.
    DigestMismatch,
    /// The flash failed to write a new header, failed to erase it, and cannot be read: only the next
    /// boot will show which programme is active.
    ActiveUnknown,
    /// The kind of a record is reserved: [`RESERVED_KINDS`](super::RESERVED_KINDS) or above.
    BadKind,
    /// The journal cannot be read. It can be reset at the device.
    JournalLost,
    /// The journal has used up its sequence numbers.
    JournalExhausted,
    /// Settings were never written.
    NoSettings,
    /// The settings were not written completely, or have changed since.
    SettingsDamaged,
}
