//! Simulated flash of a device: in memory, and optionally written through to a backing such as a file,
//! so that an uploaded programme survives a restart.

use std::cell::RefCell;
use std::io;
use std::ops::Range;
use std::rc::Rc;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use saggar_device::store::{HEADER_BYTES, Region, Store};
use saggar_device::{DeviceSettings, SETTINGS_BYTES_MAX};
use saggar_lockstep::{FLASH_BYTES, FLASH_SECTOR, flash_layout};
use saggar_plant::faults::FlashArea;

/// Stores a write to the flash: called with the offset and the bytes.
pub type FlashBacking = Box<dyn Fn(usize, &[u8]) -> io::Result<()>>;

/// Bytes of a block, the unit in which the store writes.
const BLOCK_BYTES: usize = 16;

/// Simulated NOR flash. It outlives the device that is booted from it: see [`Self::same_chip`].
pub struct SimulatedFlash {
    bytes: Rc<RefCell<Vec<u8>>>,
    backing: Option<Rc<FlashBacking>>,
}

/// An operation that the flash refuses, or a backing that failed.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedFlashError(NorFlashErrorKind);

impl SimulatedFlash {
    /// Blank flash in memory only.
    pub fn blank() -> Self {
        Self::read_only(vec![0xFF; FLASH_BYTES])
    }

    /// Flash with these bytes, in memory only.
    pub fn read_only(bytes: Vec<u8>) -> Self {
        Self { bytes: Rc::new(RefCell::new(bytes)), backing: None }
    }

    /// Flash with these bytes; every write also goes to `backing`.
    pub fn with_backing(bytes: Vec<u8>, backing: FlashBacking) -> Self {
        Self { backing: Some(Rc::new(backing)), ..Self::read_only(bytes) }
    }

    /// Another access to the same chip, for whoever boots a device from it again.
    #[must_use]
    pub fn same_chip(&self) -> Self {
        Self { bytes: Rc::clone(&self.bytes), backing: self.backing.clone() }
    }

    /// Replaces the contents, and stores the sectors that differ.
    ///
    /// # Errors
    /// The backing fails.
    pub fn replace(&mut self, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
        let total = 0..self.capacity().min(bytes.len());
        for from in total.clone().step_by(FLASH_SECTOR) {
            let range = from..(from + FLASH_SECTOR).min(total.end);
            let new = bytes.get(range.clone()).unwrap_or(&[]);
            if self.in_range(&range) != new {
                self.change(range, |old| old.copy_from_slice(new))?;
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

    /// The bytes of the settings region up to the last one written, in whole blocks.
    pub fn settings_region(&self) -> Vec<u8> {
        let mut region = self.in_region(flash_layout().settings);
        let used = region.iter().rposition(|byte| *byte != 0xFF).map_or(0, |last| last + 1);
        region.truncate(used.next_multiple_of(BLOCK_BYTES));
        region
    }

    /// The whole contents.
    pub fn bytes(&self) -> Vec<u8> {
        self.bytes.borrow().clone()
    }

    /// Flips a bit in the middle of the active programme or of the settings, or in the last line of the
    /// log. Returns whether there is any such thing to flip a bit of.
    ///
    /// # Errors
    /// The backing fails.
    pub fn flip_bit(&mut self, area: FlashArea) -> Result<bool, SimulatedFlashError> {
        let at = match area {
            FlashArea::Programme => self.middle_of_programme(),
            FlashArea::Settings => {
                let region = flash_layout().settings;
                let used = self.settings_region().len();
                (used > BLOCK_BYTES).then_some(region.at as usize + used / 2)
            }
            FlashArea::Log => self.last_log_line(),
        };
        let Some(at) = at else { return Ok(false) };
        self.change(at..at + 1, |byte| byte.iter_mut().for_each(|byte| *byte ^= 1))?;
        Ok(true)
    }

    /// Offset of the middle of the active programme.
    fn middle_of_programme(&self) -> Option<usize> {
        // A copy, because opening repairs.
        let store = Store::open(Self::read_only(self.bytes()), flash_layout()).ok()?;
        let active = store.active()?;
        let holds = |slot: &Region| {
            let header = self.in_region(*slot);
            header.windows(active.digest.len()).take(HEADER_BYTES).any(|at| at == active.digest)
        };
        let slot = flash_layout().slots.into_iter().find(holds)?;
        Some(slot.at as usize + HEADER_BYTES + usize::from(active.bytes) / 2)
    }

    /// Offset of the data of the last record of the journal.
    fn last_log_line(&self) -> Option<usize> {
        // A record begins with its sequence number; the region whose first is higher is in use.
        let first = |region: &Region| {
            let bytes = self.in_region(*region);
            let number = u32::from_le_bytes(*bytes.first_chunk()?);
            (number != u32::MAX).then_some(number)
        };
        let region = flash_layout().journal.into_iter().max_by_key(first)?;
        let bytes = self.in_region(region);
        let last = bytes.iter().rposition(|byte| *byte != 0xFF)?;
        Some(region.at as usize + last / BLOCK_BYTES * BLOCK_BYTES + BLOCK_BYTES / 2)
    }

    fn in_region(&self, region: Region) -> Vec<u8> {
        let (at, bytes) = (region.at as usize, region.bytes as usize);
        self.in_range(&(at..at + bytes))
    }

    fn in_range(&self, range: &Range<usize>) -> Vec<u8> {
        self.bytes.borrow().get(range.clone()).unwrap_or(&[]).to_vec()
    }

    /// Changes these bytes, and stores them.
    fn change(
        &self,
        range: Range<usize>,
        change: impl FnOnce(&mut [u8]),
    ) -> Result<(), SimulatedFlashError> {
        change(self.bytes.borrow_mut().get_mut(range.clone()).unwrap_or(&mut []));
        let Some(backing) = &self.backing else { return Ok(()) };
        backing(range.start, &self.in_range(&range))
            .map_err(|_| SimulatedFlashError(NorFlashErrorKind::Other))
    }

    fn range(&self, offset: u32, length: usize) -> Result<Range<usize>, SimulatedFlashError> {
        let from = offset as usize;
        match from.checked_add(length) {
            Some(to) if to <= self.capacity() => Ok(from..to),
            Some(_) | None => Err(SimulatedFlashError(NorFlashErrorKind::OutOfBounds)),
        }
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
        bytes.copy_from_slice(self.bytes.borrow().get(range).unwrap_or(&[]));
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.borrow().len()
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
        self.change(range, |bytes| bytes.fill(0xFF))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimulatedFlashError> {
        let range = self.range(offset, bytes.len())?;
        // Flash can only clear bits.
        self.change(range, |cells| {
            cells.iter_mut().zip(bytes).for_each(|(cell, byte)| *cell &= byte);
        })
    }
}

#[cfg(test)]
mod tests {
    use sha2::{Digest as _, Sha256};

    use super::*;

    /// Settings and a programme, both of bytes that only the store reads.
    fn filled() -> SimulatedFlash {
        let flash = SimulatedFlash::blank();
        let mut store = Store::open(flash.same_chip(), flash_layout()).unwrap();
        store.write_settings(&[7; 100]).unwrap();
        let programme = [9; 64];
        store.begin_upload(64).unwrap();
        store.write_chunk(0, &programme).unwrap();
        store.commit(&Sha256::digest(programme).into()).unwrap();
        store.count_boot().unwrap();
        store.count_boot().unwrap();
        flash
    }

    /// Whether settings and programme are whole, and the number of the last boot that can be read.
    fn found(flash: &SimulatedFlash) -> (bool, bool, u32) {
        let copy = SimulatedFlash::read_only(flash.bytes());
        let mut store = Store::open(copy, flash_layout()).unwrap();
        let settings = store.read_settings(&mut [0; 200]).is_ok();
        let boots = store.count_boot().unwrap();
        (settings, store.active().is_some(), boots)
    }

    #[test]
    fn a_flipped_bit_spoils_its_area_and_no_other() {
        let whole = found(&filled());
        assert_eq!((whole.0, whole.1), (true, true));
        for (area, wanted) in
            [(FlashArea::Settings, (false, true)), (FlashArea::Programme, (true, false))]
        {
            let mut flash = filled();
            assert!(flash.flip_bit(area).unwrap());
            let now = found(&flash);
            assert_eq!((now.0, now.1), wanted, "{area:?}");
        }
        let mut flash = filled();
        let before = flash.bytes();
        assert!(flash.flip_bit(FlashArea::Log).unwrap());
        let layout = flash_layout();
        let differ = |(at, (a, b)): (usize, (&u8, &u8))| (a != b).then_some(at as u32);
        let after = flash.bytes();
        let changed: Vec<u32> =
            before.iter().zip(&after).enumerate().filter_map(differ).collect();
        let [at] = changed[..] else { panic!("one byte changes: {changed:?}") };
        let in_log = |region: &Region| (region.at..region.at + region.bytes).contains(&at);
        assert!(layout.journal.iter().any(in_log), "{at}");
        // The number of a lost record is not used again.
        assert_eq!(found(&flash), whole);
    }

    #[test]
    fn there_is_no_bit_to_flip_in_what_was_never_written() {
        let mut flash = SimulatedFlash::blank();
        for area in [FlashArea::Settings, FlashArea::Programme, FlashArea::Log] {
            assert!(!flash.flip_bit(area).unwrap(), "{area:?}");
        }
        assert!(flash.bytes().iter().all(|byte| *byte == 0xFF));
    }

    #[test]
    fn a_flipped_bit_is_stored() {
        let stored = Rc::new(RefCell::new(Vec::new()));
        let log = Rc::clone(&stored);
        let backing = move |at: usize, bytes: &[u8]| {
            log.borrow_mut().push((at, bytes.to_vec()));
            Ok(())
        };
        let mut flash = SimulatedFlash::with_backing(filled().bytes(), Box::new(backing));
        flash.flip_bit(FlashArea::Settings).unwrap();
        let stored = stored.borrow();
        let [(at, bytes)] = &stored[..] else { panic!("{stored:?}") };
        assert_eq!(bytes[..], flash.bytes()[*at..=*at]);
    }
}
