//! Flash of the kind that the store expects, in memory that outlives the board: an erase sets
//! bits, a write only clears them.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_lockstep::{FLASH, FLASH_BYTES, FLASH_SECTOR};

use crate::window;

/// The flash.
pub struct Flash;

/// Beyond its end, or not where a sector begins.
#[derive(Clone, Copy, Debug)]
pub struct Misplaced;

impl NorFlashError for Misplaced {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::OutOfBounds
    }
}

impl ErrorType for Flash {
    type Error = Misplaced;
}

/// The place of some bytes, if they are inside.
fn place(offset: u32, bytes: usize) -> Result<usize, Misplaced> {
    let from = offset as usize;
    let to = from.checked_add(bytes).ok_or(Misplaced)?;
    if to > FLASH_BYTES { Err(Misplaced) } else { Ok(FLASH.wrapping_add(from)) }
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Misplaced> {
        let at = place(offset, bytes.len())?;
        for (i, byte) in bytes.iter_mut().enumerate() {
            *byte = window::byte(at.wrapping_add(i));
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH_BYTES
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = FLASH_SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Misplaced> {
        let bytes = to.checked_sub(from).ok_or(Misplaced)? as usize;
        let at = place(from, bytes)?;
        if (from as usize | bytes) & (FLASH_SECTOR - 1) != 0 {
            return Err(Misplaced);
        }
        for i in 0..bytes {
            window::set_byte(at.wrapping_add(i), 0xFF);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Misplaced> {
        let at = place(offset, bytes.len())?;
        for (i, byte) in bytes.iter().enumerate() {
            window::set_byte(at.wrapping_add(i), window::byte(at.wrapping_add(i)) & byte);
        }
        Ok(())
    }
}
