//! The header of a slot: what makes the bytes behind it a programme. It is written last.

use saggar_core::checksum::CRC;
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};

use super::blocks::{Fields, copy_into};

/// Bytes of a header: three lines. The programme follows at once.
pub const HEADER_BYTES: usize = 48;

/// Begins every header.
const MAGIC: [u8; 4] = *b"sgrP";

/// Version of the header's form.
const VERSION: u16 = 1;

/// The bytes that the checksum covers: all before it.
const COVERED: usize = HEADER_BYTES - 4;

/// A committed programme, as its header says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProgrammeHeader {
    /// SHA-256 of the programme.
    pub digest: [u8; DIGEST_BYTES],
    /// Its length in bytes.
    pub bytes: u16,
    /// Counts commits; of two whole slots the later one is active.
    pub sequence: u32,
}

impl ProgrammeHeader {
    #[inline]
    pub(super) fn encode(&self) -> [u8; HEADER_BYTES] {
        let mut room = [0xFF; HEADER_BYTES];
        let fields = MAGIC
            .into_iter()
            .chain(VERSION.to_le_bytes())
            .chain(self.bytes.to_le_bytes())
            .chain(self.sequence.to_le_bytes())
            .chain(self.digest);
        copy_into(&mut room, fields);
        if let Some((covered, check)) = room.split_at_mut_checked(COVERED) {
            copy_into(check, CRC.checksum(covered).to_le_bytes());
        }
        room
    }

    #[inline]
    pub(super) fn decode(bytes: &[u8; HEADER_BYTES]) -> Option<Self> {
        let (covered, check) = bytes.split_at_checked(COVERED)?;
        if CRC.checksum(covered).to_le_bytes() != *check {
            return None;
        }
        let mut fields = Fields(covered);
        if fields.take()? != MAGIC || u16::from_le_bytes(fields.take()?) != VERSION {
            return None;
        }
        let bytes = u16::from_le_bytes(fields.take()?);
        let sequence = u32::from_le_bytes(fields.take()?);
        let digest = fields.take()?;
        let fits = (1..=IMAGE_BYTES_MAX).contains(&usize::from(bytes));
        fits.then_some(Self { digest, bytes, sequence })
    }

    /// Committed after the other; sequences wrap.
    pub(super) const fn is_later_than(&self, other: &Self) -> bool {
        self.sequence.wrapping_sub(other.sequence).cast_signed() > 0
    }
}
