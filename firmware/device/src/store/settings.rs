//! The settings: one blob with a checksum. Its first line is written last, so that a torn one is
//! never taken for good.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::checksum::CRC;

use super::Store;
use super::blocks::{BLANK_BLOCK, Block, Fields, copy_into};
use super::error::StoreError;
use super::layout::SETTINGS_BYTES_MAX;

/// Begins the first line: what it is, and the version of its form.
const MAGIC: [u8; 4] = *b"sgS1";

/// The length and checksum in a first line; the checksum covers magic and length as well.
fn decode(line: &Block) -> Option<(u16, u32)> {
    let mut fields = Fields(line);
    if fields.take()? != MAGIC {
        return None;
    }
    let length = u16::from_le_bytes(fields.take()?);
    let check = u32::from_le_bytes(fields.take()?);
    (usize::from(length) <= SETTINGS_BYTES_MAX).then_some((length, check))
}

impl<F: NorFlash> Store<F> {
    /// Copies the settings; returns how many bytes they have.
    ///
    /// # Errors
    /// [`StoreError::NoSettings`] if none were written; [`StoreError::SettingsDamaged`] if they
    /// were not written to the end, or have changed: `into` is all zeros then;
    /// [`StoreError::BadLength`] if they do not fit into `into`; or what the flash says.
    pub fn read_settings(&mut self, into: &mut [u8]) -> Result<usize, StoreError> {
        let region = self.layout.settings;
        let first = self.flash.read(region, 0)?;
        let Some((length, check)) = decode(&first) else {
            let blank = self.flash.is_blank(region)?;
            return Err(if blank {
                StoreError::NoSettings
            } else {
                StoreError::SettingsDamaged
            });
        };
        let count = usize::from(length);
        if count > into.len() {
            return Err(StoreError::BadLength);
        }
        let mut walk = CRC.digest();
        walk.update(&MAGIC);
        walk.update(&length.to_le_bytes());
        let mut room = into.iter_mut().take(count);
        let mut index = 1;
        while room.len() > 0 {
            let line = self.flash.read(region, index)?;
            for (from, to) in line.iter().zip(room.by_ref()) {
                walk.update(core::slice::from_ref(from));
                *to = *from;
            }
            index = index.saturating_add(1);
        }
        if walk.finalize() != check {
            into.fill(0);
            return Err(StoreError::SettingsDamaged);
        }
        Ok(count)
    }

    /// Replaces the settings. Only a person at the device may ask for it. A cut leaves the old
    /// ones, the new ones or none, and never a mixture.
    ///
    /// # Errors
    /// [`StoreError::BadLength`] for more than [`SETTINGS_BYTES_MAX`], or what the flash says.
    pub fn write_settings(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        let length = u16::try_from(bytes.len())
            .ok()
            .filter(|length| usize::from(*length) <= SETTINGS_BYTES_MAX)
            .ok_or(StoreError::BadLength)?;
        let mut walk = CRC.digest();
        walk.update(&MAGIC);
        walk.update(&length.to_le_bytes());
        walk.update(bytes);
        let mut first = BLANK_BLOCK;
        let fields = MAGIC.into_iter().chain(length.to_le_bytes());
        copy_into(&mut first, fields.chain(walk.finalize().to_le_bytes()));
        let region = self.layout.settings;
        self.flash.erase(region)?;
        self.flash.write_from(region, 1, bytes)?;
        self.flash.write(region, 0, &first)
    }
}
