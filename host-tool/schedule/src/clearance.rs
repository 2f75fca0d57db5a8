//! The clearance: the record that a programme passed its rehearsal, with this work, on this
//! furnace profile, by this version of the tool. An upload needs it.
//!
//! It records the digests of the texts of schedule and profile, not of what they mean: a text
//! holds all that a rehearsal can depend on, so that no key that is added later can be forgotten
//! here. The price is that a changed comment asks for another rehearsal, which takes seconds.
//!
//! It keeps a desk from sending what was never rehearsed by mistake. It proves nothing to the
//! device, which verifies every programme itself, and its checksum finds an edit, not a forger.

use std::path::Path;

use saggar_core::programme::DIGEST_BYTES;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

use crate::FilesError;
use crate::firing_plan::FiringPlan;
use saggar_files::{Diagnostic, hex, sanitized};

/// Name of the file in the folder of a report.
pub const FILE_NAME: &str = "clearance.json";

/// What the file calls itself.
const SCHEMA: &str = "saggar.clearance";

/// Its version: goes up when a field changes its meaning or goes away.
const VERSION: u32 = 2;

/// Version of this tool.
const TOOL: &str = env!("CARGO_PKG_VERSION");

/// What to do about a clearance that does not cover what is to be uploaded.
const AGAIN: &str = "rehearse the schedule once more";

/// What was cleared. Digests are SHA-256, hexadecimal. Every field is compared when something is
/// uploaded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clearance {
    schema: String,
    version: u32,
    /// Digest of the schedule's text, which has the work in it.
    pub schedule: String,
    /// Digest of the profile's text.
    pub profile: String,
    /// Digest of the programme's bytes.
    pub programme: String,
    /// Digest of the furnace's data, as a device has it.
    pub furnace: String,
    /// Version of the tool that rehearsed.
    pub tool: String,
    /// SHA-256 of all of the above.
    checksum: String,
}

impl Clearance {
    /// The clearance of a firing whose rehearsal passed.
    pub fn for_plan(firing: &FiringPlan) -> Self {
        let mut clearance = Self {
            schema: SCHEMA.to_owned(),
            version: VERSION,
            schedule: firing.source.digest(),
            profile: firing.profile.digest.clone(),
            programme: firing.summary.digest.clone(),
            furnace: hex(&firing.profile.furnace.digest()),
            tool: TOOL.to_owned(),
            checksum: String::new(),
        };
        clearance.checksum = clearance.compute_checksum();
        clearance
    }

    /// What its file holds.
    pub fn to_json(&self) -> String {
        // A struct of texts and a number always has a form in JSON.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }

    /// Reads one.
    ///
    /// # Errors
    /// Why it is none, or that it was edited.
    pub fn read(path: &Path) -> Result<Self, FilesError> {
        if !path.exists() {
            let help = "rehearse the schedule: a plain run that passes writes it; --clearance \
                        names another";
            return Err(Diagnostic::for_file(path, "there is no clearance", help).into());
        }
        let source = crate::text_file::read_text(path)?;
        let wrong =
            |message: &str| FilesError::from(Diagnostic::for_file(path, message, AGAIN));
        let none = || wrong("this is no clearance");
        let value: Value = serde_json::from_str(source.text()).map_err(|_| none())?;
        // The version first: what stands in a file of another one is not known here.
        match (value["schema"].as_str(), value["version"].as_u64()) {
            (Some(SCHEMA), Some(version)) if version != u64::from(VERSION) => {
                return Err(wrong(&format!(
                    "this clearance is of version {version}, and this tool knows version {VERSION}"
                )));
            }
            (Some(SCHEMA), Some(_)) => {}
            (_, _) => return Err(none()),
        }
        let clearance: Self = serde_json::from_str(source.text()).map_err(|_| none())?;
        if clearance.checksum != clearance.compute_checksum() {
            return Err(wrong("this clearance was edited after the rehearsal"));
        }
        Ok(clearance)
    }

    /// Makes sure that it covers a programme, and where that was compiled just now, the schedule
    /// and the profile that it was compiled from.
    ///
    /// # Errors
    /// All that is not as it was in the rehearsal.
    pub fn check_covers(
        &self,
        path: &Path,
        programme: &str,
        plan: Option<&FiringPlan>,
    ) -> Result<(), FilesError> {
        let mut diagnostics = Vec::new();
        let mut differs = |message: String, help: &str| {
            diagnostics.push(Diagnostic::for_file(path, message, help));
        };
        if self.tool != TOOL {
            let tool = sanitized(&self.tool, 20);
            let message =
                format!("saggar {tool} made the rehearsal, and this is saggar {TOOL}");
            differs(message, AGAIN);
        }
        if let Some(plan) = plan
            && self.schedule != plan.source.digest()
        {
            let name = plan.source.name();
            let message = format!("the schedule {name} is not as it was in the rehearsal");
            differs(message, "rehearse it once more, as it is now");
        }
        if let Some(plan) = plan
            && self.profile != plan.profile.digest
        {
            let name = sanitized(&plan.profile_path.display().to_string(), 200);
            let message =
                format!("the furnace profile {name} is not as it was in the rehearsal");
            differs(message, "rehearse the schedule once more, on this profile");
        }
        // A changed schedule mostly makes another programme: that is said already.
        if diagnostics.is_empty() && self.programme != programme {
            let message = format!(
                "it clears programme {}, and this is {}",
                short_digest(&self.programme),
                short_digest(programme)
            );
            let help = "rehearse its schedule, compile it anew, and upload that";
            diagnostics.push(Diagnostic::for_file(path, message, help));
        }
        if diagnostics.is_empty() { Ok(()) } else { Err(FilesError::Invalid(diagnostics)) }
    }

    /// Makes sure that the rehearsal was on a furnace of these data.
    ///
    /// # Errors
    /// It was on another one.
    pub fn check_furnace(
        &self,
        path: &Path,
        furnace: &[u8; DIGEST_BYTES],
    ) -> Result<(), FilesError> {
        let furnace = hex(furnace);
        if self.furnace == furnace {
            return Ok(());
        }
        let message = format!(
            "it clears a furnace of data {}, and the device's are {}",
            short_digest(&self.furnace),
            short_digest(&furnace)
        );
        let help =
            "rehearse on the profile that is stored in the device, or store this one there";
        Err(Diagnostic::for_file(path, message, help).into())
    }

    fn compute_checksum(&self) -> String {
        let Self { schema, version, schedule, profile, programme, furnace, tool, checksum: _ } =
            self;
        let version = version.to_string();
        let mut hash = Sha256::new();
        for field in [schema, &version, schedule, profile, programme, furnace, tool] {
            // Their lengths keep one field from flowing into the next.
            hash.update((field.len() as u64).to_le_bytes());
            hash.update(field.as_bytes());
        }
        hex(&hash.finalize())
    }
}

/// The first digits of a digest.
fn short_digest(digest: &str) -> String {
    sanitized(digest, 64).chars().take(8).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_version_of_the_tool_has_to_rehearse_again() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schedules");
        let plan = FiringPlan::load(&docs.join("clean-alumina.toml"), None).expect("good");
        let mut clearance = Clearance::for_plan(&plan);
        let covers = |clearance: &Clearance, plan| {
            clearance.check_covers(Path::new(FILE_NAME), &clearance.programme.clone(), plan)
        };
        covers(&clearance, Some(&plan)).expect("covered");
        clearance.tool = "0.0.9\u{1b}".to_owned();
        for plan in [Some(&plan), None] {
            let error = covers(&clearance, plan).expect_err("another tool");
            let [diagnostic] = error.diagnostics() else { panic!("{error:?}") };
            assert!(diagnostic.message.starts_with("saggar 0.0.9"), "{diagnostic:?}");
            assert!(!diagnostic.message.contains('\u{1b}'), "{diagnostic:?}");
            assert_eq!(diagnostic.help.as_deref(), Some(AGAIN));
        }
    }

    #[test]
    fn all_that_was_changed_is_said_at_once() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schedules");
        let plan = FiringPlan::load(&docs.join("clean-alumina.toml"), None).expect("good");
        let mut clearance = Clearance::for_plan(&plan);
        for field in [&mut clearance.schedule, &mut clearance.profile, &mut clearance.tool] {
            *field = "0".repeat(64);
        }
        let error =
            clearance.check_covers(Path::new(FILE_NAME), "", Some(&plan)).expect_err("all");
        assert_eq!(error.diagnostics().len(), 3, "{error:?}");
    }
}
