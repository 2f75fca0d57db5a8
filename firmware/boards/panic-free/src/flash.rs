//! A flash in memory, just enough for the store to compile against.

use core::hint::black_box;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
use saggar_device::store::{Layout, Region};

const SECTOR_BYTES: usize = 4096;
const SECTORS: usize = 5;

/// Size of the flash.
pub const BYTES: usize = SECTOR_BYTES * SECTORS;

/// The bytes, and the error that every operation returns.
pub struct MemoryFlash {
    pub bytes: &'static mut [u8; BYTES],
    pub error: Option<NorFlashErrorKind>,
}

/// The store's layout.
pub const fn layout() -> Layout {
    const fn sector(index: usize) -> Region {
        Region { at: (index * SECTOR_BYTES) as u32, bytes: SECTOR_BYTES as u32 }
    }
    Layout {
        slots: [sector(0), sector(1)],
        journal: [sector(2), sector(3)],
        settings: sector(4),
    }
}

impl MemoryFlash {
    fn part(&mut self, at: u32, bytes: usize) -> Result<&mut [u8], NorFlashErrorKind> {
        if let Some(why) = black_box(self.error) {
            return Err(why);
        }
        let from = at as usize;
        let to = from.checked_add(bytes).ok_or(NorFlashErrorKind::OutOfBounds)?;
        black_box(&mut *self.bytes).get_mut(from..to).ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl ErrorType for MemoryFlash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for MemoryFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let part = self.part(at, into.len())?;
        for (to, from) in into.iter_mut().zip(part) {
            *to = *from;
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        BYTES
    }
}

impl NorFlash for MemoryFlash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR_BYTES;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        let bytes = to.checked_sub(from).ok_or(NorFlashErrorKind::OutOfBounds)?;
        self.part(from, bytes as usize)?.fill(0xFF);
        Ok(())
    }

    fn write(&mut self, at: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        for (to, from) in self.part(at, bytes.len())?.iter_mut().zip(bytes) {
            *to &= *from;
        }
        Ok(())
    }
}
