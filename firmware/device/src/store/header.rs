//! The header of a slot, written last, which makes the bytes behind it a programme.

use saggar_core::checksum::CRC;
use saggar_core::programme::{DIGEST_BYTES, IMAGE_BYTES_MAX};

use super::blocks::{Fields, copy_into};

/// Bytes of a header: three blocks, followed by the programme.
pub const HEADER_BYTES: usize = 48;

/// First bytes of every header.
const MAGIC: [u8; 4] = *b"sgrP";

/// Version of the header.
const VERSION: u16 = 1;

/// Bytes that the checksum covers.
const COVERED: usize = HEADER_BYTES - 4;

/// Header of a committed programme.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProgrammeHeader {
    /// SHA-256 of the programme.
    pub digest: [u8; DIGEST_BYTES],
    /// Length of the programme in bytes.
    pub bytes: u16,
    /// Counts commits: of two valid slots the later one is active.
    pub sequence: u32,
}

impl ProgrammeHeader {
    #[inline]
    pub(super) fn encode(&self) -> [u8; HEADER_BYTES] {
        let mut header = [0xFF; HEADER_BYTES];
        let fields = MAGIC
            .into_iter()
            .chain(VERSION.to_le_bytes())
            .chain(self.bytes.to_le_bytes())
            .chain(self.sequence.to_le_bytes())
            .chain(self.digest);
        copy_into(&mut header, fields);
        if let Some((covered, check)) = header.split_at_mut_checked(COVERED) {
            copy_into(check, CRC.checksum(covered).to_le_bytes());
        }
        header
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

    /// Whether it was committed after the other; sequence numbers wrap.
    pub(super) const fn is_later_than(&self, other: &Self) -> bool {
        self.sequence.wrapping_sub(other.sequence).cast_signed() > 0
    }
}
