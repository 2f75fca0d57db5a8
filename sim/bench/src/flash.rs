//! Simulated flash of a device: in memory, and optionally written through to a backing such as a file,
//! so that an uploaded programme survives a restart.

use std::io;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::store::Store;
use saggar_device::{DeviceSettings, SETTINGS_BYTES_MAX};
use saggar_lockstep::{FLASH_BYTES, FLASH_SECTOR, flash_layout};

/// Stores a write to the flash: called with the offset and the bytes.
pub type FlashBacking = Box<dyn Fn(usize, &[u8]) -> io::Result<()>>;

/// Simulated NOR flash.
pub struct SimulatedFlash {
    bytes: Vec<u8>,
    backing: Option<FlashBacking>,
}

/// An operation that the flash refuses, or a backing that failed.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedFlashError(NorFlashErrorKind);

impl SimulatedFlash {
    /// Blank flash in memory only.
    pub fn blank() -> Self {
        Self { bytes: vec![0xFF; FLASH_BYTES], backing: None }
    }

    /// Flash with these bytes, in memory only.
    pub fn read_only(bytes: Vec<u8>) -> Self {
        Self { bytes, backing: None }
    }

    /// Flash with these bytes; every write also goes to `backing`.
    pub fn with_backing(bytes: Vec<u8>, backing: FlashBacking) -> Self {
        Self { bytes, backing: Some(backing) }
    }

    /// Replaces the contents, and stores the sectors that differ.
    ///
    /// # Errors
    /// The backing fails.
    pub fn replace(&mut self, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
        let total = 0..self.bytes.len().min(bytes.len());
        for from in total.clone().step_by(FLASH_SECTOR) {
            let range = from..(from + FLASH_SECTOR).min(total.end);
            let new = bytes.get(range.clone()).unwrap_or(&[]);
            let old = self.bytes.get_mut(range.clone()).unwrap_or(&mut []);
            if old != new {
                old.copy_from_slice(new);
                self.save(range)?;
            }
        }
        Ok(())
    }

    /// Stores settings, as the setup of a real device does.
    ///
    /// # Errors
    /// The flash cannot store them.
    pub fn store_settings(
        &mut self,
        settings: &DeviceSettings,
    ) -> Result<(), SimulatedFlashError> {
        let mut buffer = [0; SETTINGS_BYTES_MAX];
        let bytes = settings
            .encode(&mut buffer)
            .ok_or(SimulatedFlashError(NorFlashErrorKind::OutOfBounds))?;
        let stored = Store::open(&mut *self, flash_layout())
            .and_then(|mut store| store.write_settings(bytes));
        stored.map_err(|_| SimulatedFlashError(NorFlashErrorKind::Other))
    }

    /// The settings stored in it, if they can be read.
    pub fn stored_settings(&mut self) -> Option<DeviceSettings> {
        let mut buffer = [0; SETTINGS_BYTES_MAX];
        let mut store = Store::open(&mut *self, flash_layout()).ok()?;
        let length = store.read_settings(&mut buffer).ok()?;
        DeviceSettings::decode(buffer.get(..length)?).ok()
    }

    /// Blank flash with these settings stored.
    ///
    /// # Errors
    /// The flash cannot store them.
    pub fn with_settings(settings: &DeviceSettings) -> Result<Self, SimulatedFlashError> {
        let mut flash = Self::blank();
        flash.store_settings(settings).map(|()| flash)
    }

    /// The bytes of the settings region up to the last one written.
    pub fn settings_region(&self) -> &[u8] {
        let region = flash_layout().settings;
        let (at, bytes) = (region.at as usize, region.bytes as usize);
        let region = self.bytes.get(at..at + bytes).unwrap_or(&[]);
        let used = region.iter().rposition(|byte| *byte != 0xFF).map_or(0, |last| last + 1);
        // Rounded up to whole 16-byte words, the unit in which the store writes.
        region.get(..used.next_multiple_of(16).min(region.len())).unwrap_or(&[])
    }

    /// The whole contents.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    fn range(
        &self,
        offset: u32,
        length: usize,
    ) -> Result<std::ops::Range<usize>, SimulatedFlashError> {
        let from = offset as usize;
        match from.checked_add(length) {
            Some(to) if to <= self.bytes.len() => Ok(from..to),
            Some(_) | None => Err(SimulatedFlashError(NorFlashErrorKind::OutOfBounds)),
        }
    }

    fn save(&self, range: std::ops::Range<usize>) -> Result<(), SimulatedFlashError> {
        let Some(backing) = &self.backing else { return Ok(()) };
        let bytes = self.bytes.get(range.clone()).unwrap_or(&[]);
        backing(range.start, bytes).map_err(|_| SimulatedFlashError(NorFlashErrorKind::Other))
    }
}

impl NorFlashError for SimulatedFlashError {
    fn kind(&self) -> NorFlashErrorKind {
        self.0
    }
}

impl ErrorType for SimulatedFlash {
    type Error = SimulatedFlashError;
}

impl ReadNorFlash for SimulatedFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), SimulatedFlashError> {
        let range = self.range(offset, bytes.len())?;
        bytes.copy_from_slice(self.bytes.get(range).unwrap_or(&[]));
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl NorFlash for SimulatedFlash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = FLASH_SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), SimulatedFlashError> {
        let length =
            to.checked_sub(from).ok_or(SimulatedFlashError(NorFlashErrorKind::OutOfBounds))?;
        let range = self.range(from, length as usize)?;
        if !(range.start | range.end).is_multiple_of(FLASH_SECTOR) {
            return Err(SimulatedFlashError(NorFlashErrorKind::NotAligned));
        }
        self.bytes.get_mut(range.clone()).unwrap_or(&mut []).fill(0xFF);
        self.save(range)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
        let range = self.range(offset, bytes.len())?;
        // Flash can only clear bits.
        for (cell, byte) in
            self.bytes.get_mut(range.clone()).unwrap_or(&mut []).iter_mut().zip(bytes)
        {
            *cell &= byte;
        }
        self.save(range)
    }
}
