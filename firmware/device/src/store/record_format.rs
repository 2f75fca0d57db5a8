//! Encoding of a journal record in a block of flash.

use saggar_core::checksum::CRC;

use super::blocks::{BLANK_BLOCK, Block, Fields, copy_into};

/// Kinds from here on are reserved for the store.
pub const RESERVED_KINDS: u8 = 0xF0;

/// First record of a region: carries over the boot number.
pub(super) const KIND_BASE: u8 = 0xF0;

/// A boot. The sequence number of this record is the boot number.
pub(super) const KIND_BOOT: u8 = 0xF1;

/// A record to append: a kind and its data, which the store does not interpret.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JournalRecord {
    /// Chosen by the caller, below [`RESERVED_KINDS`].
    pub kind: u8,
    /// Chosen by the caller.
    pub data: [u8; 7],
}

/// A record read back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StoredRecord {
    /// Rises from record to record, with gaps.
    pub sequence: u32,
    /// Boot number of the boot that appended it; 0 if that was not counted or is lost.
    pub boot: u32,
    /// The record.
    pub record: JournalRecord,
}

/// Bytes that the checksum covers.
const COVERED: usize = 12;

/// A record with its sequence number.
pub(super) struct SequencedRecord {
    pub(super) sequence: u32,
    pub(super) record: JournalRecord,
}

impl SequencedRecord {
    pub(super) fn encode(&self) -> Block {
        let mut block = BLANK_BLOCK;
        let head = self.sequence.to_le_bytes().into_iter().chain([self.record.kind]);
        copy_into(&mut block, head.chain(self.record.data));
        if let Some((covered, check)) = block.split_at_mut_checked(COVERED) {
            copy_into(check, CRC.checksum(covered).to_le_bytes());
        }
        block
    }

    pub(super) fn decode(block: &Block) -> Option<Self> {
        let (covered, check) = block.split_at_checked(COVERED)?;
        if CRC.checksum(covered).to_le_bytes() != *check {
            return None;
        }
        let mut fields = Fields(covered);
        let sequence = u32::from_le_bytes(fields.take()?);
        let [kind] = fields.take()?;
        Some(Self { sequence, record: JournalRecord { kind, data: fields.take()? } })
    }

    /// The boot number that this record sets or carries over.
    pub(super) fn boot(&self) -> Option<u32> {
        match self.record.kind {
            KIND_BOOT => Some(self.sequence),
            KIND_BASE => Fields(&self.record.data).take().map(u32::from_le_bytes),
            _ => None,
        }
    }
}
