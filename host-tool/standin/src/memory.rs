//! Flash of a stand-in: in memory, and if a file is named, in that too, so that what was uploaded
//! is there after the next start.

use std::path::Path;
use std::rc::Rc;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::Settings;
use saggar_device::store::Store;
use saggar_lockstep::{FLASH_BYTES, FLASH_SECTOR, layout};

use super::Error;
use super::disk::Disk;
use saggar_files::Finding;

/// The flash.
#[derive(Debug)]
pub struct Memory {
    bytes: Vec<u8>,
    disk: Option<Rc<Disk>>,
}

/// What the flash does not do.
#[derive(Clone, Copy, Debug)]
pub struct Refused(NorFlashErrorKind);

impl Memory {
    /// Flash that is forgotten at the end.
    pub fn blank() -> Self {
        Self { bytes: vec![0xFF; FLASH_BYTES], disk: None }
    }

    /// Flash with these bytes, for looking at only.
    pub fn copy(bytes: Vec<u8>) -> Self {
        Self { bytes, disk: None }
    }

    /// Flash that lies in a file, which is made if there is none.
    ///
    /// # Errors
    /// As those of [`Disk::open`].
    pub fn file(path: &Path) -> Result<Self, Error> {
        let (disk, bytes) = Disk::open(path)?;
        Ok(Self { bytes, disk: Some(Rc::new(disk)) })
    }

    /// The file that it lies in.
    pub fn disk(&self) -> Option<Rc<Disk>> {
        self.disk.clone()
    }

    /// Takes these bytes instead, and writes what is different.
    ///
    /// # Errors
    /// The file does not take them.
    pub fn replace(&mut self, bytes: &[u8]) -> Result<(), Refused> {
        let whole = 0..self.bytes.len().min(bytes.len());
        for from in whole.clone().step_by(FLASH_SECTOR) {
            let place = from..(from + FLASH_SECTOR).min(whole.end);
            let new = bytes.get(place.clone()).unwrap_or(&[]);
            let old = self.bytes.get_mut(place.clone()).unwrap_or(&mut []);
            if old != new {
                old.copy_from_slice(new);
                self.save(place)?;
            }
        }
        Ok(())
    }

    /// Stores settings, as a local action does.
    ///
    /// # Errors
    /// The flash does not take them.
    pub fn provision(&mut self, settings: &Settings) -> Result<(), Error> {
        let mut room = [0; saggar_device::SETTINGS_BYTES_MAX];
        let stored = settings.encode(&mut room).map(|bytes| {
            Store::open(&mut *self, layout()).and_then(|mut store| store.write_settings(bytes))
        });
        match stored {
            Some(Ok(())) => Ok(()),
            Some(Err(_)) | None => Err(Finding::on_file(
                "memory",
                "the flash does not take the settings",
                "name a new file for --memory, or none",
            )
            .into()),
        }
    }

    /// Flash in which nothing but these settings were stored.
    ///
    /// # Errors
    /// The flash does not take them.
    pub fn with(settings: &Settings) -> Result<Self, Error> {
        let mut flash = Self::blank();
        flash.provision(settings).map(|()| flash)
    }

    /// The bytes of the settings' region, up to the last that was written.
    pub fn settings(&self) -> &[u8] {
        let region = layout().settings;
        let (at, bytes) = (region.at as usize, region.bytes as usize);
        let region = self.bytes.get(at..at + bytes).unwrap_or(&[]);
        let used = region.iter().rposition(|byte| *byte != 0xFF).map_or(0, |last| last + 1);
        // Whole words, as flash is written.
        region.get(..used.next_multiple_of(16).min(region.len())).unwrap_or(&[])
    }

    /// All of it.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    fn place(&self, offset: u32, length: usize) -> Result<std::ops::Range<usize>, Refused> {
        let from = offset as usize;
        match from.checked_add(length) {
            Some(to) if to <= self.bytes.len() => Ok(from..to),
            Some(_) | None => Err(Refused(NorFlashErrorKind::OutOfBounds)),
        }
    }

    fn save(&self, place: std::ops::Range<usize>) -> Result<(), Refused> {
        let Some(disk) = &self.disk else { return Ok(()) };
        let bytes = self.bytes.get(place.clone()).unwrap_or(&[]);
        disk.write(place.start, bytes).map_err(|_| Refused(NorFlashErrorKind::Other))
    }
}

impl NorFlashError for Refused {
    fn kind(&self) -> NorFlashErrorKind {
        self.0
    }
}

impl ErrorType for Memory {
    type Error = Refused;
}

impl ReadNorFlash for Memory {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Refused> {
        let place = self.place(offset, bytes.len())?;
        bytes.copy_from_slice(self.bytes.get(place).unwrap_or(&[]));
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl NorFlash for Memory {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = FLASH_SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Refused> {
        let length = to.checked_sub(from).ok_or(Refused(NorFlashErrorKind::OutOfBounds))?;
        let place = self.place(from, length as usize)?;
        if !(place.start | place.end).is_multiple_of(FLASH_SECTOR) {
            return Err(Refused(NorFlashErrorKind::NotAligned));
        }
        self.bytes.get_mut(place.clone()).unwrap_or(&mut []).fill(0xFF);
        self.save(place)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Refused> {
        let place = self.place(offset, bytes.len())?;
        // Flash can only clear bits.
        for (cell, byte) in
            self.bytes.get_mut(place.clone()).unwrap_or(&mut []).iter_mut().zip(bytes)
        {
            *cell &= byte;
        }
        self.save(place)
    }
}
