//! A flash in memory.

use std::convert::Infallible;
use std::sync::{Arc, Mutex};

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use saggar_device::store::{Layout, Region};

const SECTOR: usize = 4096;
const SECTORS: usize = 8;

/// A flash that outlives the device: its clones share the memory.
#[derive(Clone)]
pub(crate) struct Flash(Arc<Mutex<Vec<u8>>>);

impl Default for Flash {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(vec![0xff; SECTOR * SECTORS])))
    }
}

/// The regions of the flash.
pub(crate) fn layout() -> Layout {
    let sectors = |first: u32, count: u32| Region {
        at: first * SECTOR as u32,
        bytes: count * SECTOR as u32,
    };
    Layout {
        slots: [sectors(0, 1), sectors(1, 1)],
        journal: [sectors(2, 2), sectors(4, 2)],
        settings: sectors(6, 1),
    }
}

impl ErrorType for Flash {
    type Error = Infallible;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Infallible> {
        let at = offset as usize;
        bytes.copy_from_slice(&self.0.lock().unwrap()[at..at + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        SECTOR * SECTORS
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Infallible> {
        self.0.lock().unwrap()[from as usize..to as usize].fill(0xff);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Infallible> {
        let at = offset as usize;
        let mut all = self.0.lock().unwrap();
        for (old, new) in all[at..at + bytes.len()].iter_mut().zip(bytes) {
            *old &= new;
        }
        Ok(())
    }
}
