//! The settings: one blob with a checksum. Its first block is written last, so that an interrupted
//! write is never taken for a complete one.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::checksum::CRC;

use super::Store;
use super::blocks::{BLANK_BLOCK, Block, Fields, copy_into};
use super::error::StoreError;
use super::layout::SETTINGS_BYTES_MAX;

/// First bytes: what it is, and the version of the format.
const MAGIC: [u8; 4] = *b"sgS1";

/// Length and checksum from the first block; the checksum covers magic and length as well.
fn decode(block: &Block) -> Option<(u16, u32)> {
    let mut fields = Fields(block);
    if fields.take()? != MAGIC {
        return None;
    }
    let length = u16::from_le_bytes(fields.take()?);
    let check = u32::from_le_bytes(fields.take()?);
    (usize::from(length) <= SETTINGS_BYTES_MAX).then_some((length, check))
}

impl<F: NorFlash> Store<F> {
    /// Copies the settings; returns their length.
    ///
    /// # Errors
    /// [`StoreError::NoSettings`] if none were written; [`StoreError::SettingsDamaged`] if they
    /// were not written completely, or have changed: `into` is then all zeros;
    /// [`StoreError::BadLength`] if they do not fit into `into`; or the flash's error.
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
        let mut checksum = CRC.digest();
        checksum.update(&MAGIC);
        checksum.update(&length.to_le_bytes());
        let mut free = into.iter_mut().take(count);
        let mut index = 1;
        while free.len() > 0 {
            let block = self.flash.read(region, index)?;
            for (from, to) in block.iter().zip(free.by_ref()) {
                checksum.update(core::slice::from_ref(from));
                *to = *from;
            }
            index = index.saturating_add(1);
        }
        if checksum.finalize() != check {
            into.fill(0);
            return Err(StoreError::SettingsDamaged);
        }
        Ok(count)
    }

    /// Replaces the settings. Only to be called by an action at the device. A power failure leaves the
    /// old ones, the new ones or none, never a mixture.
    ///
    /// # Errors
    /// [`StoreError::BadLength`] for more than [`SETTINGS_BYTES_MAX`], or the flash's error.
    pub fn write_settings(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        let length = u16::try_from(bytes.len())
            .ok()
            .filter(|length| usize::from(*length) <= SETTINGS_BYTES_MAX)
            .ok_or(StoreError::BadLength)?;
        let mut checksum = CRC.digest();
        checksum.update(&MAGIC);
        checksum.update(&length.to_le_bytes());
        checksum.update(bytes);
        let mut first = BLANK_BLOCK;
        let fields = MAGIC.into_iter().chain(length.to_le_bytes());
        copy_into(&mut first, fields.chain(checksum.finalize().to_le_bytes()));
        let region = self.layout.settings;
        self.flash.erase(region)?;
        self.flash.write_from(region, 1, bytes)?;
        self.flash.write(region, 0, &first)
    }
}
