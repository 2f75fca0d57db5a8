//! What is set at the device, and only there: who it is, its key, and its furnace's data.

use embedded_storage::nor_flash::NorFlash;
use serde::{Deserialize, Serialize};

use super::BootError;
use crate::furnace::{FURNACE_BYTES_MAX, Furnace};
use crate::store::Store;
use crate::wire::seal::{DEVICE_ID_BYTES, KEY_BYTES, Key, SEAL_BYTES};

/// Most bytes of encoded settings.
pub const SETTINGS_BYTES_MAX: usize = FURNACE_BYTES_MAX + 64;

/// Version of the settings' bytes.
const FORMAT: u8 = 1;

/// What is set at the device.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    format: u8,
    /// The device's name.
    pub id: [u8; DEVICE_ID_BYTES],
    key: Option<[u8; KEY_BYTES]>,
    /// Drawn when the key was set.
    pub salt: [u8; SEAL_BYTES],
    /// The furnace's data.
    pub furnace: Furnace,
}

/// Whoever prints settings does not print the key.
impl core::fmt::Debug for Settings {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Settings(..)")
    }
}

impl Settings {
    /// Settings of this device; without a key it takes no orders.
    pub const fn new(
        id: [u8; DEVICE_ID_BYTES],
        key: Option<[u8; KEY_BYTES]>,
        salt: [u8; SEAL_BYTES],
        furnace: Furnace,
    ) -> Self {
        Self { format: FORMAT, id, key, salt, furnace }
    }

    /// The key, if one was set that is none of a blank memory.
    pub fn key(&self) -> Option<Key> {
        self.key.and_then(Key::new)
    }

    /// The bytes to store.
    pub fn encode<'a>(&self, room: &'a mut [u8; SETTINGS_BYTES_MAX]) -> Option<&'a [u8]> {
        postcard::to_slice(self, room).ok().map(|written| &*written)
    }

    /// Settings from bytes.
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let (settings, rest) = postcard::take_from_bytes::<Self>(bytes).ok()?;
        (settings.format == FORMAT && rest.is_empty()).then_some(settings)
    }
}

/// The settings in flash.
pub(super) fn read<F: NorFlash>(store: &mut Store<F>) -> Result<Settings, BootError> {
    let mut room = [0; SETTINGS_BYTES_MAX];
    let length = store.read_settings(&mut room).map_err(|_| BootError::NoSettings)?;
    room.get(..length).and_then(Settings::decode).ok_or(BootError::NoSettings)
}
