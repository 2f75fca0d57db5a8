//! The microcontroller's internal flash, presented to the store as sectors of one size.
//!
//! The chip has sectors of 16, 64 and 128 KiB, and the store needs five: of each of five sectors the
//! first 16 KiB are used. The log and one programme are in the three small ones, which erase fastest;
//! the other programme is in the one of 64 KiB; the settings, which this image never erases, are in
//! one of 128 KiB.
//!
//! The processor stalls while the flash is busy, since its code is in the same flash. At 32
//! bits at a time an erase takes 0.25 s (16 KiB) or 0.55 s (64 KiB), at most twice that; a word
//! 16 µs, at most 100 µs, so a block of 16 bytes 64 µs, at most 0.4 ms (all values from memory). The
//! device erases only between firings, and writes log entries at any time.
//!
//! The HAL's driver is not used: it programs byte by byte, erases at the slowest setting, starts an
//! erase in the same write that selects the sector, and can panic.

use core::ptr;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::store::{Layout, Region};
use stm32f4xx_hal::pac::FLASH;

/// Bytes used of each sector.
const SECTOR_BYTES: u32 = 16 * 1024;

/// Number and address of the sectors used, in the order of the store's addresses.
const SECTORS: [(u8, u32); 5] =
    [(1, 0x0800_4000), (2, 0x0800_8000), (3, 0x0800_C000), (4, 0x0801_0000), (7, 0x0806_0000)];

/// The store's layout in these sectors.
pub const fn layout() -> Layout {
    const fn sector(index: u32) -> Region {
        Region { at: index * SECTOR_BYTES, bytes: SECTOR_BYTES }
    }
    Layout {
        journal: [sector(0), sector(1)],
        slots: [sector(2), sector(3)],
        settings: sector(4),
    }
}

const KEYS: [u32; 2] = [0x4567_0123, 0xCDEF_89AB];

/// All error flags of the status register; writing a one clears a flag.
const ERRORS: u32 = 0b1_1111_0010;

/// The flash.
pub struct InternalFlash(pub FLASH);

/// Error of a flash operation.
#[derive(Clone, Copy, Debug)]
pub enum FlashError {
    /// Beyond the end, or across the end of a sector.
    OutOfBounds,
    /// Not aligned to a word or sector.
    NotAligned,
    /// The flash reported an error.
    OperationFailed,
}

impl NorFlashError for FlashError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::OutOfBounds => NorFlashErrorKind::OutOfBounds,
            Self::NotAligned => NorFlashErrorKind::NotAligned,
            Self::OperationFailed => NorFlashErrorKind::Other,
        }
    }
}

impl ErrorType for InternalFlash {
    type Error = FlashError;
}

/// Sector number and address of a range of bytes in one sector.
fn locate(offset: u32, bytes: usize) -> Result<(u8, u32), FlashError> {
    let (index, within) = (offset / SECTOR_BYTES, offset % SECTOR_BYTES);
    let (number, first) = SECTORS.get(index as usize).ok_or(FlashError::OutOfBounds)?;
    let end = (within as usize).checked_add(bytes).ok_or(FlashError::OutOfBounds)?;
    if end > SECTOR_BYTES as usize {
        return Err(FlashError::OutOfBounds);
    }
    Ok((*number, first.wrapping_add(within)))
}

impl InternalFlash {
    fn unlock(&self) {
        if self.0.cr().read().lock().bit_is_set() {
            for key in KEYS {
                // SAFETY: the register takes any word; these two in this order unlock it.
                self.0.keyr().write(|w| unsafe { w.bits(key) });
            }
        }
        // SAFETY: ones clear the error flags of earlier operations.
        self.0.sr().write(|w| unsafe { w.bits(ERRORS) });
    }

    /// Waits for the operation, locks the flash, and flushes the data cache.
    fn finish(&self) -> Result<(), FlashError> {
        self.wait();
        let fine = self.0.sr().read().bits() & ERRORS == 0;
        self.0.cr().write(|w| w.lock().set_bit());
        self.0.acr().modify(|_, w| w.dcen().clear_bit());
        self.0.acr().modify(|_, w| w.dcrst().set_bit());
        self.0.acr().modify(|_, w| w.dcrst().clear_bit());
        self.0.acr().modify(|_, w| w.dcen().set_bit());
        if fine { Ok(()) } else { Err(FlashError::OperationFailed) }
    }

    fn wait(&self) {
        // Ensures that the operation has reached the flash before its status is read.
        cortex_m::asm::dsb();
        while self.0.sr().read().bsy().bit_is_set() {}
    }

    fn erase_sector(&self, number: u8) -> Result<(), FlashError> {
        self.wait();
        self.unlock();
        // SAFETY: a sector of the list, none of which contains code.
        self.0
            .cr()
            .write(|w| unsafe { w.psize().psize32().ser().set_bit().snb().bits(number) });
        self.0.cr().modify(|_, w| w.strt().set_bit());
        self.finish()
    }
}

impl ReadNorFlash for InternalFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), FlashError> {
        let (_, first) = locate(offset, bytes.len())?;
        let end = first.wrapping_add(bytes.len() as u32);
        for (at, byte) in (first..end).zip(bytes) {
            // SAFETY: inside a sector of the list, to which there are no references.
            *byte = unsafe { ptr::read_volatile(at as *const u8) };
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        SECTOR_BYTES as usize * SECTORS.len()
    }
}

impl NorFlash for InternalFlash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR_BYTES as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), FlashError> {
        if !(from.is_multiple_of(SECTOR_BYTES) && to.is_multiple_of(SECTOR_BYTES)) {
            return Err(FlashError::NotAligned);
        }
        let (first, end) = ((from / SECTOR_BYTES) as usize, (to / SECTOR_BYTES) as usize);
        for (number, _) in SECTORS.get(first..end).ok_or(FlashError::OutOfBounds)? {
            self.erase_sector(*number)?;
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), FlashError> {
        let (_, first) = locate(offset, bytes.len())?;
        let (words, []) = bytes.as_chunks::<4>() else { return Err(FlashError::NotAligned) };
        if !offset.is_multiple_of(4) {
            return Err(FlashError::NotAligned);
        }
        self.wait();
        self.unlock();
        self.0.cr().write(|w| w.psize().psize32().pg().set_bit());
        let mut at = first;
        for word in words {
            // SAFETY: as in `read`; programming is enabled and the address is aligned.
            unsafe { ptr::write_volatile(at as *mut u32, u32::from_le_bytes(*word)) };
            self.wait();
            at = at.wrapping_add(4);
        }
        self.finish()
    }
}
