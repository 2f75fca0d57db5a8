//! The CRC-32 over bytes in memory and in flash. There is only one kind, so that a firmware image
//! holds only one table.

use crc::{CRC_32_ISO_HDLC, Crc, Table};

/// CRC-32/ISO-HDLC.
pub static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// A running CRC, updated piece by piece.
pub type CrcDigest = crc::Digest<'static, u32, Table<1>>;
