//! The clearance: the record that a programme passed its rehearsal on a furnace's data. An
//! upload needs it.
//!
//! It keeps a desk from sending what was never rehearsed by mistake. It proves nothing to the
//! device, which verifies every programme itself, and its checksum finds an edit, not a forger.

use std::fs;
use std::path::{Path, PathBuf};

use saggar_core::programme::DIGEST_BYTES;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::Error;
use crate::document::{Finding, Source, hex, shown};
use crate::firing::Firing;
use crate::whole::{Unwritten, Whole, words};

/// Name of the file in the folder of a report.
pub const FILE: &str = "clearance.json";

/// What the file calls itself.
const SCHEMA: &str = "saggar.clearance";

/// Its version: goes up when a field changes its meaning or goes away.
const VERSION: u32 = 1;

/// What was cleared. Digests are SHA-256, hexadecimal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clearance {
    schema: String,
    version: u32,
    /// Digest of the programme's bytes.
    pub programme: String,
    /// Its name.
    pub name: String,
    /// Digest of the furnace's data, as a device has it.
    pub furnace: String,
    /// Digest of the profile's text.
    pub profile: String,
    /// Version of the tool that rehearsed.
    pub tool: String,
    /// Seed of the rehearsal, as text: not every reader of JSON keeps 64 bits.
    pub seed: String,
    /// SHA-256 of all of the above.
    checksum: String,
}

impl Clearance {
    /// The clearance of a firing whose rehearsal passed.
    pub fn of(firing: &Firing, seed: u64) -> Self {
        let mut clearance = Self {
            schema: SCHEMA.to_owned(),
            version: VERSION,
            programme: firing.summary.digest.clone(),
            name: firing.summary.name.clone(),
            furnace: hex(&firing.profile.furnace.digest()),
            profile: firing.profile.digest.clone(),
            tool: env!("CARGO_PKG_VERSION").to_owned(),
            seed: seed.to_string(),
            checksum: String::new(),
        };
        clearance.checksum = clearance.sum();
        clearance
    }

    /// Writes it into a folder, in the place of an older one.
    ///
    /// # Errors
    /// Why it is not there.
    pub fn write(&self, folder: &Path) -> Result<PathBuf, Unwritten> {
        let path = folder.join(FILE);
        // A struct of texts and a number always has a form in JSON.
        let text = serde_json::to_string_pretty(self).unwrap_or_default() + "\n";
        Whole::beside(&path, text.as_bytes())?.put(true)?;
        Ok(path)
    }

    /// Reads one.
    ///
    /// # Errors
    /// Why it is none, or that it was edited.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let name = path.display().to_string();
        if !path.exists() {
            let help = "rehearse the schedule: a plain run that passes writes it; --clearance \
                        names another";
            return Err(Finding::on_file(&name, "there is no clearance", help).into());
        }
        let source = Source::read(path)?;
        let wrong = |message: &str| {
            Error::from(Finding::on_file(&name, message, "rehearse the schedule once more"))
        };
        let clearance: Self =
            serde_json::from_str(source.text()).map_err(|_| wrong("this is no clearance"))?;
        if clearance.schema != SCHEMA || clearance.version != VERSION {
            return Err(wrong("this clearance is of another version of the tool"));
        }
        if clearance.checksum != clearance.sum() {
            return Err(wrong("this clearance was edited after the rehearsal"));
        }
        Ok(clearance)
    }

    /// Makes sure that it clears this programme on a furnace of these data.
    ///
    /// # Errors
    /// What it does not clear.
    pub fn clears(
        &self,
        path: &Path,
        programme: &str,
        furnace: &[u8; DIGEST_BYTES],
    ) -> Result<(), Error> {
        let short = |digest: &str| shown(digest, 64).chars().take(8).collect::<String>();
        let name = path.display().to_string();
        if self.programme != programme {
            let message = format!(
                "it clears programme {}, and this is {}",
                short(&self.programme),
                short(programme)
            );
            let help = "the schedule was changed after its rehearsal: rehearse it once more";
            return Err(Finding::on_file(&name, message, help).into());
        }
        let furnace = hex(furnace);
        if self.furnace != furnace {
            let message = format!(
                "it clears a furnace of data {}, and the device's are {}",
                short(&self.furnace),
                short(&furnace)
            );
            let help = "rehearse on the profile that is stored in the device, or store this one \
                        there";
            return Err(Finding::on_file(&name, message, help).into());
        }
        Ok(())
    }

    fn sum(&self) -> String {
        let Self {
            schema,
            version,
            programme,
            name,
            furnace,
            profile,
            tool,
            seed,
            checksum: _,
        } = self;
        let version = version.to_string();
        let mut hash = Sha256::new();
        for field in [schema, &version, programme, name, furnace, profile, tool, seed] {
            // Their lengths keep one field from flowing into the next.
            hash.update((field.len() as u64).to_le_bytes());
            hash.update(field.as_bytes());
        }
        hex(&hash.finalize())
    }
}

/// Takes away a clearance that a rehearsal into its folder does not uphold.
///
/// # Errors
/// It is still there.
pub fn withdraw(folder: &Path) -> Result<(), Unwritten> {
    let path = folder.join(FILE);
    match fs::remove_file(&path) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(error) => Err(Unwritten::because(&path, words(&error))),
    }
}
