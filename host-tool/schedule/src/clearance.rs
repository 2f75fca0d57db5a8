//! The clearance: the record that a programme passed its rehearsal, with this work, on this
//! furnace profile, by this version of the tool; or the reason for which a person let a programme go on
//! whose verdict is not known. An upload needs it.
//!
//! It records digests of the texts of schedule and profile, not of their meaning: the text contains
//! everything that a rehearsal depends on, including keys that are added later. The price is that a
//! changed comment requires another rehearsal, which takes seconds.
//!
//! It prevents the mistake of uploading something that was never rehearsed. It proves nothing to the
//! device, which verifies every programme itself; its checksum detects an edit, not a forgery.

use std::path::Path;

use saggar_core::programme::DIGEST_BYTES;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest as _, Sha256};

use crate::FilesError;
use crate::firing_plan::FiringPlan;
use crate::reason::Reason;
use saggar_files::{Diagnostic, hex, sanitized};

/// Name of the file in the folder of a report.
pub const FILE_NAME: &str = "clearance.json";

/// Identifies the file format.
const SCHEMA: &str = "saggar.clearance";

/// Version of the format. Increased when a field changes its meaning or is removed.
pub const VERSION: u32 = 3;

/// Version of this tool.
const TOOL: &str = env!("CARGO_PKG_VERSION");

/// The cure for a clearance that does not cover the upload.
const REHEARSE_AGAIN: &str = "rehearse the schedule again";

/// What was cleared. Digests are SHA-256, hexadecimal. An upload compares every field.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clearance {
    schema: String,
    version: u32,
    /// Digest of the schedule's text, which includes the work.
    pub schedule: String,
    /// Digest of the profile's text.
    pub profile: String,
    /// Digest of the programme's bytes.
    pub programme: String,
    /// Digest of the furnace data as the device stores them.
    pub furnace: String,
    /// Version of the tool that rehearsed.
    pub tool: String,
    /// Why a person let a programme go on whose verdict is not known; none for one that passed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// SHA-256 of all of the above.
    checksum: String,
}

impl Clearance {
    /// The clearance of a firing whose rehearsal passed, or whose verdict is not known if a person gives
    /// a reason.
    pub fn for_plan(firing: &FiringPlan, reason: Option<&Reason>) -> Self {
        let mut clearance = Self {
            schema: SCHEMA.to_owned(),
            version: VERSION,
            schedule: firing.source.digest(),
            profile: firing.profile.digest.clone(),
            programme: firing.summary.digest.clone(),
            furnace: hex(&firing.profile.furnace.digest()),
            tool: TOOL.to_owned(),
            reason: reason.map(|reason| reason.as_str().to_owned()),
            checksum: String::new(),
        };
        clearance.checksum = clearance.compute_checksum();
        clearance
    }

    /// The content of its file.
    pub fn to_json(&self) -> String {
        // Strings and a number can always be serialised.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }

    /// Reads a clearance.
    ///
    /// # Errors
    /// The file is missing, is not a clearance of this version, or was edited.
    pub fn read(path: &Path) -> Result<Self, FilesError> {
        if !path.exists() {
            let help = "rehearse the schedule: a run under default conditions that passes writes one (or \
                        give a --reason, if its verdict is not known); or name the file with \
                        --clearance";
            return Err(Diagnostic::for_file(path, "there is no clearance", help).into());
        }
        let source = crate::text_file::read_text(path)?;
        let wrong = |message: &str| {
            FilesError::from(Diagnostic::for_file(path, message, REHEARSE_AGAIN))
        };
        let none = || wrong("this file is not a clearance");
        let value: Value = serde_json::from_str(source.text()).map_err(|_| none())?;
        // Check the version first: the fields of another version are unknown.
        match (value["schema"].as_str(), value["version"].as_u64()) {
            (Some(SCHEMA), Some(version)) if version != u64::from(VERSION) => {
                return Err(wrong(&format!(
                    "this clearance has version {version}, but this tool reads version {VERSION}"
                )));
            }
            (Some(SCHEMA), Some(_)) => {}
            (_, _) => return Err(none()),
        }
        let clearance: Self = serde_json::from_str(source.text()).map_err(|_| none())?;
        if clearance.checksum != clearance.compute_checksum() {
            return Err(wrong("this clearance was edited after the rehearsal"));
        }
        let is_reason = |reason: &String| reason.parse::<Reason>().is_ok();
        if !clearance.reason.as_ref().is_none_or(is_reason) {
            return Err(none());
        }
        Ok(clearance)
    }

    /// Checks that it covers a programme and, if `plan` is given, the schedule and the profile that the
    /// programme was compiled from.
    ///
    /// # Errors
    /// Everything that differs from the rehearsal.
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
                format!("it was rehearsed by saggar {tool}, but this is saggar {TOOL}");
            differs(message, REHEARSE_AGAIN);
        }
        if let Some(plan) = plan
            && self.schedule != plan.source.digest()
        {
            let name = plan.source.name();
            let message = format!("the schedule {name} has changed since the rehearsal");
            differs(message, "rehearse it again");
        }
        if let Some(plan) = plan
            && self.profile != plan.profile.digest
        {
            let name = sanitized(&plan.profile_path.display().to_string(), 200);
            let message = format!("the furnace profile {name} has changed since the rehearsal");
            differs(message, "rehearse the schedule again, on this profile");
        }
        // A changed schedule mostly compiles to another programme, so one message is enough.
        if diagnostics.is_empty() && self.programme != programme {
            let message = format!(
                "it clears programme {}, but this is {}",
                short_digest(&self.programme),
                short_digest(programme)
            );
            let help = "rehearse the schedule, compile it again, and upload the result";
            diagnostics.push(Diagnostic::for_file(path, message, help));
        }
        if diagnostics.is_empty() { Ok(()) } else { Err(FilesError::Invalid(diagnostics)) }
    }

    /// Checks that the rehearsal used a furnace with these data. `name` is that of the furnace that
    /// was rehearsed, if it is known.
    ///
    /// # Errors
    /// It used another one.
    pub fn check_furnace(
        &self,
        path: &Path,
        furnace: &[u8; DIGEST_BYTES],
        name: Option<&str>,
    ) -> Result<(), FilesError> {
        let furnace = hex(furnace);
        if self.furnace == furnace {
            return Ok(());
        }
        let (cleared, other) = (short_digest(&self.furnace), short_digest(&furnace));
        let name = name.unwrap_or("a furnace");
        let message = format!(
            "it clears {name} (furnace data {cleared}), but this device is another furnace \
             (furnace data {other})"
        );
        let help =
            "rehearse on the profile that is stored in the device, or store this profile there";
        Err(Diagnostic::for_file(path, message, help).into())
    }

    fn compute_checksum(&self) -> String {
        let Self {
            schema,
            version,
            schedule,
            profile,
            programme,
            furnace,
            tool,
            reason,
            checksum: _,
        } = self;
        let version = version.to_string();
        let mut hash = Sha256::new();
        let reason = reason.as_deref().unwrap_or_default();
        for field in [schema, &version, schedule, profile, programme, furnace, tool, reason] {
            // The length separates each field from the next.
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
        let mut clearance = Clearance::for_plan(&plan, None);
        let covers = |clearance: &Clearance, plan| {
            clearance.check_covers(Path::new(FILE_NAME), &clearance.programme.clone(), plan)
        };
        covers(&clearance, Some(&plan)).expect("covered");
        clearance.tool = "0.0.9\u{1b}".to_owned();
        for plan in [Some(&plan), None] {
            let error = covers(&clearance, plan).expect_err("another tool");
            let [diagnostic] = error.diagnostics() else { panic!("{error:?}") };
            assert!(
                diagnostic.message.starts_with("it was rehearsed by saggar 0.0.9"),
                "{diagnostic:?}"
            );
            assert!(!diagnostic.message.contains('\u{1b}'), "{diagnostic:?}");
            assert_eq!(diagnostic.help.as_deref(), Some(REHEARSE_AGAIN));
        }
    }

    #[test]
    fn the_checksum_covers_the_reason() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schedules");
        let plan = FiringPlan::load(&docs.join("clean-alumina.toml"), None).expect("good");
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(FILE_NAME);
        let read = |text: &str| {
            std::fs::write(&path, text).expect("written");
            Clearance::read(&path)
        };
        let reason: Reason = "a trial on a scrap coping".parse().expect("good");
        let with = Clearance::for_plan(&plan, Some(&reason)).to_json();
        assert_eq!(read(&with).expect("good").reason.as_deref(), Some(reason.as_str()));
        let without = Clearance::for_plan(&plan, None).to_json();
        assert_eq!(read(&without).expect("good").reason, None);
        let line = "  \"reason\": \"a trial on a scrap coping\",\n";
        assert!(with.contains(line) && !without.contains("reason"), "{with}{without}");
        for edited in [with.replace("scrap", "good"), with.replace(line, "")] {
            let error = read(&edited).expect_err("edited");
            assert!(error.diagnostics()[0].message.contains("was edited"), "{error:?}");
        }
        // A checksum proves nothing about who made it, so an illegible reason is refused by itself.
        let mut forged = Clearance::for_plan(&plan, Some(&reason));
        forged.reason = Some("good\u{202e}".to_owned());
        forged.checksum = forged.compute_checksum();
        let error = read(&forged.to_json()).expect_err("illegible");
        assert!(error.diagnostics()[0].message.contains("not a clearance"), "{error:?}");
    }

    #[test]
    fn all_that_was_changed_is_said_at_once() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schedules");
        let plan = FiringPlan::load(&docs.join("clean-alumina.toml"), None).expect("good");
        let mut clearance = Clearance::for_plan(&plan, None);
        for field in [&mut clearance.schedule, &mut clearance.profile, &mut clearance.tool] {
            *field = "0".repeat(64);
        }
        let error =
            clearance.check_covers(Path::new(FILE_NAME), "", Some(&plan)).expect_err("all");
        assert_eq!(error.diagnostics().len(), 3, "{error:?}");
    }
}
