//! One line of the journal.

use saggar_core::checksum::CRC;

use super::blocks::{BLANK_BLOCK, Block, Fields, copy_into};

/// Kinds from here on are the store's own.
pub const RESERVED_KINDS: u8 = 0xF0;

/// Opens a region: carries the number of the boot over.
pub(super) const KIND_BASE: u8 = 0xF0;

/// A boot; its number is its sequence number.
pub(super) const KIND_BOOT: u8 = 0xF1;

/// What is worth keeping over a loss of power: a kind and what belongs to it. The store does
/// not look into either.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JournalRecord {
    /// The caller's, below [`KINDS`].
    pub kind: u8,
    /// The caller's.
    pub data: [u8; 7],
}

/// A record as it is read back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StoredRecord {
    /// Grows from record to record, with gaps.
    pub sequence: u32,
    /// Number of the boot in which it was told; 0 if that was not counted or is lost.
    pub boot: u32,
    /// What was told.
    pub record: JournalRecord,
}

/// The bytes that the checksum covers: all before it.
const COVERED: usize = 12;

/// A line that can be read.
pub(super) struct SequencedRecord {
    pub(super) sequence: u32,
    pub(super) record: JournalRecord,
}

impl SequencedRecord {
    pub(super) fn encode(&self) -> Block {
        let mut line = BLANK_BLOCK;
        let head = self.sequence.to_le_bytes().into_iter().chain([self.record.kind]);
        copy_into(&mut line, head.chain(self.record.data));
        if let Some((covered, check)) = line.split_at_mut_checked(COVERED) {
            copy_into(check, CRC.checksum(covered).to_le_bytes());
        }
        line
    }

    pub(super) fn decode(line: &Block) -> Option<Self> {
        let (covered, check) = line.split_at_checked(COVERED)?;
        if CRC.checksum(covered).to_le_bytes() != *check {
            return None;
        }
        let mut fields = Fields(covered);
        let sequence = u32::from_le_bytes(fields.take()?);
        let [kind] = fields.take()?;
        Some(Self { sequence, record: JournalRecord { kind, data: fields.take()? } })
    }

    /// The number of the boot that this line begins or carries over.
    pub(super) fn boot(&self) -> Option<u32> {
        match self.record.kind {
            KIND_BOOT => Some(self.sequence),
            KIND_BASE => Fields(&self.record.data).take().map(u32::from_le_bytes),
            _ => None,
        }
    }
}
