//! NOR flash in memory that can lose power at any byte, shared between a device and the fuzz target.

use std::cell::RefCell;
use std::rc::Rc;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use saggar_device::store::{Layout, Region};

/// Bytes of a sector.
const SECTOR_BYTES: usize = 128;

/// First sector and number of sectors of two programme slots, two journal regions, and settings.
const SECTORS: [(u32, u32); 5] = [(0, 9), (9, 9), (18, 16), (34, 16), (50, 7)];

/// Bytes of the whole flash.
pub(crate) const CAPACITY: usize = 57 * SECTOR_BYTES;

pub(crate) fn layout() -> Layout {
    let [a, b, c, d, e] = SECTORS.map(|(first, count)| Region {
        at: first * SECTOR_BYTES as u32,
        bytes: count * SECTOR_BYTES as u32,
    });
    Layout { slots: [a, b], journal: [c, d], settings: e }
}

struct Cells {
    bytes: Vec<u8>,
    /// Bytes that may still be written or erased before the power fails.
    energy: usize,
}

/// A handle on the flash; clones share the contents.
#[derive(Clone)]
pub(crate) struct Flash(Rc<RefCell<Cells>>);

impl Flash {
    pub(crate) fn new(mut bytes: Vec<u8>) -> Self {
        bytes.resize(CAPACITY, 0xFF);
        Self(Rc::new(RefCell::new(Cells { bytes, energy: usize::MAX })))
    }

    pub(crate) fn bytes(&self) -> Vec<u8> {
        self.0.borrow().bytes.clone()
    }

    /// Makes the power fail after this many more bytes.
    pub(crate) fn fail_after(&self, bytes: usize) {
        self.0.borrow_mut().energy = bytes;
    }

    pub(crate) fn restore_power(&self) {
        self.fail_after(usize::MAX);
    }
}

impl Cells {
    fn change(
        &mut self,
        at: usize,
        new: impl Iterator<Item = u8>,
    ) -> Result<(), NorFlashErrorKind> {
        for (cell, byte) in self.bytes[at..].iter_mut().zip(new) {
            self.energy = self.energy.checked_sub(1).ok_or(NorFlashErrorKind::Other)?;
            *cell = byte;
        }
        Ok(())
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len()).expect("the store reads inside the flash");
        let at = offset as usize;
        bytes.copy_from_slice(&self.0.borrow().bytes[at..at + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        CAPACITY
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR_BYTES;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to).expect("the store erases whole sectors");
        let length = (to - from) as usize;
        self.0.borrow_mut().change(from as usize, std::iter::repeat_n(0xFF, length))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len()).expect("the store writes whole words");
        let at = offset as usize;
        let old = self.0.borrow().bytes[at..at + bytes.len()].to_vec();
        // Writing NOR flash only clears bits.
        self.0.borrow_mut().change(at, old.into_iter().zip(bytes).map(|(old, new)| old & new))
    }
}
