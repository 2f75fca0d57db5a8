//! Watches that the programme in memory stays the one that was verified: a byte a tick, the
//! longest programme in under two minutes, for ever.

use crc::{CRC_32_ISO_HDLC, Crc, Table};

use super::Image;

static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

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

    /// Looks at the next byte; false for ever once the bytes have changed.
    pub fn walk(&mut self, image: &Image) -> bool {
        match image.bytes().get(self.at) {
            Some(byte) => {
                self.walk.update(core::slice::from_ref(byte));
                self.at = self.at.wrapping_add(1);
            }
            None => {
                let walk = core::mem::replace(&mut self.walk, CRC.digest());
                self.intact &= walk.finalize() == self.expected;
                self.at = 0;
            }
        }
        self.intact
    }
}
