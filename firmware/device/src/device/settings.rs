//! Settings, which are written at the device only: its id, its key, and its furnace's data.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::furnace::{FURNACE_BYTES_MAX, Furnace};
use saggar_core::programme::DIGEST_BYTES;
use serde::{Deserialize, Serialize};

use sha2::{Digest, Sha256};

use super::BootError;
use crate::store::{self, Store};
use crate::wire::seal::{DEVICE_ID_BYTES, DeviceKey, KEY_BYTES, SEAL_BYTES};

/// Most bytes of encoded settings.
pub const SETTINGS_BYTES_MAX: usize = FURNACE_BYTES_MAX + 64;
const _: () = assert!(SETTINGS_BYTES_MAX <= store::SETTINGS_BYTES_MAX);

/// Version of the encoding. Every change of the settings or of the furnace's data needs a new one.
pub const SETTINGS_VERSION: u8 = 2;

/// Bytes before the furnace's data in settings without a key.
const HEAD_BYTES: usize = 1 + DEVICE_ID_BYTES + 1 + SEAL_BYTES;

/// The settings of a device.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
pub struct DeviceSettings {
    format: u8,
    /// Device id, padded with zeros.
    #[serde(deserialize_with = "crate::wire::bytes::array")]
    pub id: [u8; DEVICE_ID_BYTES],
    #[serde(deserialize_with = "crate::wire::bytes::optional_array")]
    key: Option<[u8; KEY_BYTES]>,
    /// Drawn at random when the key was set.
    #[serde(deserialize_with = "crate::wire::bytes::array")]
    pub salt: [u8; SEAL_BYTES],
    /// The furnace's data.
    pub furnace: Furnace,
}

/// Keeps the key out of debug output.
impl core::fmt::Debug for DeviceSettings {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Settings(..)")
    }
}

impl DeviceSettings {
    /// Settings of a device. Without a key it takes no orders.
    pub const fn new(
        id: [u8; DEVICE_ID_BYTES],
        key: Option<[u8; KEY_BYTES]>,
        salt: [u8; SEAL_BYTES],
        furnace: Furnace,
    ) -> Self {
        Self { format: SETTINGS_VERSION, id, key, salt, furnace }
    }

    /// The key, unless unset or all bytes are the same.
    #[inline]
    pub fn key(&self) -> Option<DeviceKey> {
        self.key.and_then(DeviceKey::new)
    }

    /// Encodes the settings for flash.
    pub fn encode<'a>(&self, buffer: &'a mut [u8; SETTINGS_BYTES_MAX]) -> Option<&'a [u8]> {
        postcard::to_slice(self, buffer).ok().map(|written| &*written)
    }

    /// Decodes settings.
    ///
    /// # Errors
    /// [`BootError::NoSettings`] for bytes that are none, [`BootError::OtherSettings`] for those of
    /// another version.
    #[inline]
    pub fn decode(bytes: &[u8]) -> Result<Self, BootError> {
        // The version first: the fields of another one are unknown.
        match bytes.first() {
            Some(&version) if version != SETTINGS_VERSION => {
                return Err(BootError::OtherSettings(version));
            }
            Some(_) | None => {}
        }
        match postcard::take_from_bytes::<Self>(bytes) {
            Ok((settings, [])) => Ok(settings),
            Ok(_) | Err(_) => Err(BootError::NoSettings),
        }
    }
}

/// The furnace's data, which are the end of the encoded settings. They are sent and digested as they
/// are in flash, so that an image needs no encoder for them.
fn furnace_bytes(settings: &[u8]) -> Option<&[u8]> {
    let has_key = *settings.get(1 + DEVICE_ID_BYTES)? != 0;
    let key = if has_key { KEY_BYTES } else { 0 };
    settings.get(HEAD_BYTES.checked_add(key)?..)
}

/// Reads the furnace's data from flash; `None` if the flash has lost them since boot.
#[inline(never)]
pub(super) fn read_furnace<'a, F: NorFlash>(
    store: &mut Store<F>,
    buffer: &'a mut [u8; SETTINGS_BYTES_MAX],
) -> Option<&'a [u8]> {
    let length = store.read_settings(buffer).ok()?;
    furnace_bytes(buffer.get(..length)?)
}

/// Reads the settings, and the digest of the furnace's data in them.
#[inline(never)]
pub(super) fn read<F: NorFlash>(
    store: &mut Store<F>,
) -> Result<(DeviceSettings, [u8; DIGEST_BYTES]), BootError> {
    let mut buffer = [0; SETTINGS_BYTES_MAX];
    let length = store.read_settings(&mut buffer).map_err(|_| BootError::NoSettings)?;
    let bytes = buffer.get(..length).ok_or(BootError::NoSettings)?;
    let settings = DeviceSettings::decode(bytes)?;
    let furnace = furnace_bytes(bytes).ok_or(BootError::NoSettings)?;
    Ok((settings, Sha256::digest(furnace).into()))
}

#[cfg(test)]
mod tests {
    use heapless::Vec;

    use super::*;
    use saggar_core::furnace::{
        Closure, FeedForward, Gains, Heater, Limits, StoredHeat, VacuumSystem,
    };
    use saggar_core::units::Celsius;

    fn example_furnace() -> Furnace {
        let at = Celsius::from_milli;
        let limits = Limits {
            furnace_max: at(1_250_000),
            programme_max: at(1_200_000),
            overshoot_max_k: 25.0,
            ramp_max_k_per_min: 100.0,
            slew_max_k_per_s: 20.0,
            disagree_max_k: 40.0,
            settled_difference_max_k: 20.0,
            start_below: at(150_000),
            open_below: at(600_000),
            vent_below: at(500_000),
            firing_max_s: 50_000,
        };
        let points = [FeedForward {
            at: at(0),
            hold_w: 5.0,
            heat_capacity_j_per_k: 900.0,
            limit_above_control_k: 3.0,
        }];
        let gains = Gains { at: at(0), proportional: 0.01, integral: 1e-4, derivative: 0.02 };
        Furnace {
            control_sensor: postcard::from_bytes(&[0, 0]).unwrap(),
            limit_sensor: postcard::from_bytes(&[3, 0]).unwrap(),
            limits,
            heater: Heater {
                rated_w: 1200.0,
                mains_hz: 50,
                conducting_ma: 500,
                full_current_ma: Some(5_000),
                auxiliary_contact: true,
                counts_crossings: true,
                stored_heat: StoredHeat {
                    element_j_per_k: 80.0,
                    element_w_per_k4: 5.0e-10,
                    muffle_j_per_k: 280.0,
                },
                feed_forward: Vec::from_slice(&points).unwrap(),
            },
            gains: Vec::from_slice(&[gains]).unwrap(),
            vacuum: Some(VacuumSystem { pressure_min_pa: 1500 }),
            closure: Closure::Lift,
        }
    }

    #[test]
    fn furnace_data_end_the_settings_with_and_without_a_key() {
        let furnace = example_furnace();
        for key in [None, Some([7; KEY_BYTES]), Some([0; KEY_BYTES])] {
            let mut buffer = [0; SETTINGS_BYTES_MAX];
            let settings =
                DeviceSettings::new(*b"a device", key, [1; SEAL_BYTES], furnace.clone());
            let end = furnace_bytes(settings.encode(&mut buffer).unwrap()).unwrap();
            assert_eq!(postcard::from_bytes::<Furnace>(end).unwrap(), furnace);
            assert_eq!(<[u8; DIGEST_BYTES]>::from(Sha256::digest(end)), furnace.digest());
        }
    }

    #[test]
    fn settings_of_another_version_are_named() {
        let mut buffer = [0; SETTINGS_BYTES_MAX];
        let settings =
            DeviceSettings::new(*b"a device", None, [1; SEAL_BYTES], example_furnace());
        let length = settings.encode(&mut buffer).unwrap().len();
        let bytes = &mut buffer[..length];
        assert_eq!(DeviceSettings::decode(bytes), Ok(settings));
        for version in (0..=u8::MAX).filter(|version| *version != SETTINGS_VERSION) {
            bytes[0] = version;
            assert_eq!(DeviceSettings::decode(bytes), Err(BootError::OtherSettings(version)));
        }
        assert_eq!(DeviceSettings::decode(&[]), Err(BootError::NoSettings));
        assert_eq!(DeviceSettings::decode(&[SETTINGS_VERSION]), Err(BootError::NoSettings));
    }

    #[test]
    fn truncated_settings_have_no_furnace_data() {
        for length in 0..HEAD_BYTES {
            assert_eq!(furnace_bytes(&[0; HEAD_BYTES][..length]), None);
        }
    }
}
