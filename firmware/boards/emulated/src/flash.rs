//! NOR flash in the window's memory, which outlives the board: an erase sets bits, a write only clears
//! them.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_lockstep::{FLASH, FLASH_BYTES, FLASH_SECTOR};

use crate::window;

/// The flash.
pub struct WindowFlash;

/// Beyond the end, or not aligned to a sector.
#[derive(Clone, Copy, Debug)]
pub struct FlashBoundsError;

impl NorFlashError for FlashBoundsError {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::OutOfBounds
    }
}

impl ErrorType for WindowFlash {
    type Error = FlashBoundsError;
}

/// Address of a range of bytes inside the flash.
fn locate(offset: u32, bytes: usize) -> Result<usize, FlashBoundsError> {
    let from = offset as usize;
    let to = from.checked_add(bytes).ok_or(FlashBoundsError)?;
    if to > FLASH_BYTES { Err(FlashBoundsError) } else { Ok(FLASH.wrapping_add(from)) }
}

impl ReadNorFlash for WindowFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), FlashBoundsError> {
        let at = locate(offset, bytes.len())?;
        for (i, byte) in bytes.iter_mut().enumerate() {
            *byte = window::byte(at.wrapping_add(i));
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH_BYTES
    }
}

impl NorFlash for WindowFlash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = FLASH_SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), FlashBoundsError> {
        let bytes = to.checked_sub(from).ok_or(FlashBoundsError)? as usize;
        let at = locate(from, bytes)?;
        if (from as usize | bytes) & (FLASH_SECTOR - 1) != 0 {
            return Err(FlashBoundsError);
        }
        for i in 0..bytes {
            window::set_byte(at.wrapping_add(i), 0xFF);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), FlashBoundsError> {
        let at = locate(offset, bytes.len())?;
        for (i, byte) in bytes.iter().enumerate() {
            window::set_byte(at.wrapping_add(i), window::byte(at.wrapping_add(i)) & byte);
        }
        Ok(())
    }
}
