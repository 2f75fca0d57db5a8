//! The one checksum of the core: CRC-32/ISO-HDLC, one table in flash for all who use it.

use crc::{CRC_32_ISO_HDLC, Crc, Table};

/// The checksum, with its table.
pub(crate) static CRC32: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);
