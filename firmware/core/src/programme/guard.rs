//! Watches that the programme in memory stays the one that was verified: a few bytes a tick,
//! all of them in half a minute, for ever.

use crc::{CRC_32_ISO_HDLC, Crc, Table};

use super::Image;

static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// Bytes looked at in one tick.
const BYTES_PER_TICK: usize = 4;

/// A walk through the bytes of an image.
#[derive(Clone)]
pub struct Guard {
    expected: u32,
    walk: crc::Digest<'static, u32, Table<1>>,
    at: usize,
    intact: bool,
}

impl core::fmt::Debug for Guard {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Guard").field("at", &self.at).field("intact", &self.intact).finish()
    }
}

impl Guard {
    /// A guard of these bytes as they are now.
    pub fn of(image: &Image) -> Self {
        Self { expected: CRC.checksum(image.bytes()), walk: CRC.digest(), at: 0, intact: true }
    }

    /// Looks at the next few bytes; false for ever once the bytes have changed.
    pub fn walk(&mut self, image: &Image) -> bool {
        let next = self.at.saturating_add(BYTES_PER_TICK);
        let bytes = image.bytes();
        self.walk.update(bytes.get(self.at..next.min(bytes.len())).unwrap_or(&[]));
        self.at = next;
        if next >= bytes.len() {
            let walk = core::mem::replace(&mut self.walk, CRC.digest());
            self.intact &= walk.finalize() == self.expected;
            self.at = 0;
        }
        self.intact
    }
}
