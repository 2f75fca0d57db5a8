//! The processor's own flash, as the store wants it: sectors of one size.
//!
//! The chip has sectors of 16, 64 and 128 KiB, and the store needs five: so each of five sectors
//! gives its first 16 KiB, whatever its size, and the rest of a larger one lies idle. The log and
//! one programme have the three small ones, which are erased most quickly; the other programme
//! has the one of 64 KiB; the settings, which this image never erases, have one of 128 KiB.
//!
//! The processor stands still while the flash is busy, since its code is in the same flash. At 32
//! bits at a time an erase takes 0.25 s (16 KiB) or 0.55 s (64 KiB), at most twice that; a word
//! 16 µs, at most 100 µs, so a line of 16 bytes 64 µs, at most 0.4 ms (all values from memory). The core
//! erases only while no firing runs, and writes lines of the log at any time.
//!
//! The HAL's driver is not used: it programmes by bytes, erases at the slowest setting, starts an
//! erase in the same write that names the sector, and can panic.

use core::ptr;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::store::{Layout, Region};
use stm32f4xx_hal::pac::FLASH;

/// Bytes that each sector gives.
const SECTOR_BYTES: u32 = 16 * 1024;

/// Number and first byte of the sectors that are used, in the order of the store's addresses.
const SECTORS: [(u8, u32); 5] =
    [(1, 0x0800_4000), (2, 0x0800_8000), (3, 0x0800_C000), (4, 0x0801_0000), (7, 0x0806_0000)];

/// Where in them the store puts what.
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

/// Status: all errors of an operation; a one written to each clears it.
const ERRORS: u32 = 0b1_1111_0010;

/// The flash.
pub struct InternalFlash(pub FLASH);

/// What went wrong.
#[derive(Clone, Copy, Debug)]
pub enum FlashError {
    /// Beyond the end, or over the edge of a sector.
    OutOfBounds,
    /// Not on a word's or sector's edge.
    NotAligned,
    /// The flash did not do it.
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

/// The sector's number and the address of some bytes that lie in one sector.
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
                // SAFETY: the register takes any word; these two in this order open it.
                self.0.keyr().write(|w| unsafe { w.bits(key) });
            }
        }
        // SAFETY: ones clear the errors of operations before this one.
        self.0.sr().write(|w| unsafe { w.bits(ERRORS) });
    }

    /// Waits, locks, and drops what the caches still have of the old bytes.
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
        // Makes sure that the operation has reached the flash before its state is asked for.
        cortex_m::asm::dsb();
        while self.0.sr().read().bsy().bit_is_set() {}
    }

    fn erase_sector(&self, number: u8) -> Result<(), FlashError> {
        self.wait();
        self.unlock();
        // SAFETY: a sector of the list, none of which has code.
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
            // SAFETY: inside a sector of the list: flash that nobody has a reference to.
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
            // SAFETY: as in `read`; programming is on, and the address is a word's.
            unsafe { ptr::write_volatile(at as *mut u32, u32::from_le_bytes(*word)) };
            self.wait();
            at = at.wrapping_add(4);
        }
        self.finish()
    }
}
