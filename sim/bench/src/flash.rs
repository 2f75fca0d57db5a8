//! Simulated flash of a device: in memory, and optionally written through to a backing such as a file,
//! so that an uploaded programme survives a restart.

use std::io;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::store::Store;
use saggar_device::{DeviceSettings, SETTINGS_BYTES_MAX};
use saggar_lockstep::{FLASH_BYTES, FLASH_SECTOR, flash_layout};

/// Stores every write to the flash: the offset and the bytes.
pub type FlashBacking = Box<dyn Fn(usize, &[u8]) -> io::Result<()>>;

/// The flash.
pub struct SimulatedFlash {
    bytes: Vec<u8>,
    keeper: Option<FlashBacking>,
}

/// An operation that the flash refuses, or a backing that failed.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedFlashError(NorFlashErrorKind);

impl SimulatedFlash {
    /// Blank flash that is not kept.
    pub fn blank() -> Self {
        Self { bytes: vec![0xFF; FLASH_BYTES], keeper: None }
    }

    /// Flash with these bytes, for reading.
    pub fn read_only(bytes: Vec<u8>) -> Self {
        Self { bytes, keeper: None }
    }

    /// Flash with these bytes; every write also goes to `keeper`.
    pub fn with_backing(bytes: Vec<u8>, keeper: FlashBacking) -> Self {
        Self { bytes, keeper: Some(keeper) }
    }

    /// Replaces the contents and writes the sectors that differ.
    ///
    /// # Errors
    /// The backing fails.
    pub fn replace(&mut self, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
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
    /// The flash cannot store them.
    pub fn store_settings(
        &mut self,
        settings: &DeviceSettings,
    ) -> Result<(), SimulatedFlashError> {
        let mut room = [0; SETTINGS_BYTES_MAX];
        let bytes = settings
            .encode(&mut room)
            .ok_or(SimulatedFlashError(NorFlashErrorKind::OutOfBounds))?;
        let stored = Store::open(&mut *self, flash_layout())
            .and_then(|mut store| store.write_settings(bytes));
        stored.map_err(|_| SimulatedFlashError(NorFlashErrorKind::Other))
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
        // Whole words, as flash is written.
        region.get(..used.next_multiple_of(16).min(region.len())).unwrap_or(&[])
    }

    /// All of it.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    fn place(
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

    fn save(&self, place: std::ops::Range<usize>) -> Result<(), SimulatedFlashError> {
        let Some(keeper) = &self.keeper else { return Ok(()) };
        let bytes = self.bytes.get(place.clone()).unwrap_or(&[]);
        keeper(place.start, bytes).map_err(|_| SimulatedFlashError(NorFlashErrorKind::Other))
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
        let place = self.place(offset, bytes.len())?;
        bytes.copy_from_slice(self.bytes.get(place).unwrap_or(&[]));
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
        let place = self.place(from, length as usize)?;
        if !(place.start | place.end).is_multiple_of(FLASH_SECTOR) {
            return Err(SimulatedFlashError(NorFlashErrorKind::NotAligned));
        }
        self.bytes.get_mut(place.clone()).unwrap_or(&mut []).fill(0xFF);
        self.save(place)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
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
