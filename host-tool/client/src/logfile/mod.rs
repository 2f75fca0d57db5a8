//! The recording of a firing (a `.firing` file): all inputs and outputs of a device's core, tick by tick,
//! so that the firing can be replayed. The types here call it a log; it is not the device's own log.
//!
//! The file begins with [`MAGIC`]; records follow, each as
//! `kind ‖ length (2 bytes) ‖ bytes ‖ CRC-32 of all before (4 bytes)`, numbers little-endian:
//!
//! | kind | what |
//! | --- | --- |
//! | 0 | [`LogHeader`], once and first |
//! | 1 | the bytes of the programme that the following origins name |
//! | 2 | an origin: the core's memory before the next tick, as the wire carries it |
//! | 3 | a tick, as the wire carries it |
//!
//! Records are only appended. A truncated file is good up to its last intact record.

mod reader;
mod writer;

use saggar_core::checksum::CRC;
use saggar_device::wire::seal::DEVICE_ID_BYTES;
use serde::{Deserialize, Serialize};

pub use reader::{LogDamage, LogRecord, Reader};
pub use writer::Writer;

/// The first bytes of a recording; the last one is the version.
pub const MAGIC: [u8; 8] = *b"SAGGARF\x02";

/// Most bytes of a tick in a recording: 57 of its own, kind, length and checksum.
pub const RECORDED_TICK_BYTES_MAX: u64 = 64;

/// Most bytes of one record.
const RECORD_BYTES_MAX: usize = 4096;

/// Kinds of records.
const HEAD: u8 = 0;
const PROGRAMME: u8 = 1;
const ORIGIN: u8 = 2;
const TICK: u8 = 3;

/// The header of a recording.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LogHeader {
    /// The device's name.
    pub device: [u8; DEVICE_ID_BYTES],
    /// Version of its image.
    pub image: [u8; 3],
    /// When the recording began (s since 1970).
    pub began_s: u64,
    /// The furnace's data, postcard.
    pub furnace: Vec<u8>,
}

/// The bytes of a record with this content.
fn record(kind: u8, bytes: &[u8]) -> Vec<u8> {
    let length = u16::try_from(bytes.len()).unwrap_or(u16::MAX);
    let mut all = vec![kind];
    all.extend(length.to_le_bytes());
    all.extend(bytes);
    let sum = CRC.checksum(&all);
    all.extend(sum.to_le_bytes());
    all
}

#[cfg(test)]
mod tests;
