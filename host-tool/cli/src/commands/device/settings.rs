//! `device settings`: the settings that a person stores in a device by hand.

use std::path::Path;

use saggar_core::furnace::Furnace;
use saggar_device::DeviceSettings;
use saggar_device::wire::seal::DEVICE_ID_BYTES;
use zeroize::Zeroizing;

use crate::error::CliError;
use saggar_bench::flash::SimulatedFlash;
use saggar_client::key;
use saggar_files::Diagnostic;
use saggar_files::atomic_file::AtomicFile;
use saggar_schedule::profile::Profile;

/// Writes the settings of a device, byte for byte as they lie in its flash: furnace data, key and
/// name. Returns the digest of the furnace data.
///
/// # Errors
/// The profile or the key is invalid, or the file cannot be written.
pub fn settings(
    profile: &Path,
    key: Option<&Path>,
    id: &str,
    output: &Path,
) -> Result<[u8; 32], CliError> {
    let furnace = Profile::load(profile).map_err(saggar_files::FilesError::Invalid)?.furnace;
    let wrong = |message: &str| {
        let help = "correct the profile; `saggar check` says what is wrong";
        CliError::from(Diagnostic::for_file(profile, message, help))
    };
    furnace
        .check()
        .map_err(|_| wrong("a device would refuse to heat with these furnace data"))?;
    let digest = furnace.digest();
    let settings = settings_of(id, key, furnace)?;
    let mut flash = Zeroizing::new(Vec::new());
    let stored = SimulatedFlash::with_settings(&settings)
        .map(|stored| flash.extend(stored.settings_region()));
    stored.map_err(|_| wrong("its tables are too long for a device"))?;
    let put = AtomicFile::create_private(output, &flash)?.commit(false);
    put.map_err(|why| key::explain_existing(why, output))?;
    Ok(digest)
}

/// Settings with a new salt, and the key of a key file if one is named.
pub(in crate::commands) fn settings_of(
    id: &str,
    key: Option<&Path>,
    furnace: Furnace,
) -> Result<DeviceSettings, CliError> {
    let secret = key.map(key::read_secret).transpose()?;
    let mut name = [0; DEVICE_ID_BYTES];
    for (place, byte) in name.iter_mut().zip(id.bytes()) {
        *place = byte;
    }
    Ok(DeviceSettings::new(name, secret.as_deref().copied(), key::generate_salt()?, furnace))
}
