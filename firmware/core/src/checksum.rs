//! The CRC-32 that guards bytes in memory and in flash: one kind, so that an image holds one
//! table.

use crc::{CRC_32_ISO_HDLC, Crc, Table};

/// CRC-32/ISO-HDLC.
pub static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// A checksum that grows byte by byte.
pub type CrcDigest = crc::Digest<'static, u32, Table<1>>;
