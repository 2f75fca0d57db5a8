//! `check`: everything that is wrong with schedules, furnace profiles and lists of faults.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Serialize;

use super::compile::CompileResult;
use saggar_files::{Diagnostic, FilesError, display_path, hex};
use saggar_schedule::fault_list;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::keys::FileKind;
use saggar_schedule::profile::Profile;
use saggar_schedule::text_file;

/// The result for one file.
#[derive(Debug)]
pub struct CheckResult {
    /// The file.
    pub file: String,
    /// What it is, or what is wrong with it.
    pub outcome: Result<CheckedFile, Vec<Diagnostic>>,
}

/// A file in which nothing is wrong.
#[derive(Debug, Serialize)]
#[serde(untagged)]
pub enum CheckedFile {
    /// A schedule.
    Schedule(CompileResult),
    /// A furnace profile.
    Profile(ProfileSummary),
    /// A list of faults.
    Faults(FaultSummary),
}

/// A list of faults.
#[derive(Debug, Serialize)]
pub struct FaultSummary {
    /// The file that was checked.
    pub file: String,
    /// Each fault as on a command line.
    pub faults: Vec<String>,
}

/// A furnace profile in a few figures.
#[derive(Debug, Serialize)]
pub struct ProfileSummary {
    /// The file that was checked.
    pub file: String,
    /// Name of the furnace.
    pub furnace: String,
    /// Rated power of its heater (W).
    pub rated_watt: f64,
    /// It has a vacuum pump.
    pub has_pump: bool,
    /// Maximum setpoint of a programme (°C).
    pub programme_max_celsius: f64,
    /// Maximum rate of a ramp (K/min).
    pub ramp_max_kelvin_per_minute: f64,
    /// SHA-256 of the furnace data that a device stores, in hexadecimal.
    pub furnace_digest: String,
}

/// Checks schedules, each with the furnace that it names or with the one given, profiles and
/// lists of faults.
pub fn check(files: &[PathBuf], furnace: Option<&Path>) -> Vec<CheckResult> {
    let result = |path: &PathBuf| {
        let outcome = check_one(path, furnace).map_err(|error| match error {
            FilesError::Invalid(diagnostics) => diagnostics,
            // Nothing is written here, so nothing else can go wrong but reading.
            FilesError::AlreadyExists(_) | FilesError::Write(_) => {
                vec![Diagnostic::for_file(path, error.to_string(), "")]
            }
        });
        CheckResult { file: display_path(path), outcome }
    };
    files.iter().map(result).collect()
}

fn check_one(path: &Path, furnace: Option<&Path>) -> Result<CheckedFile, FilesError> {
    let source = Arc::new(text_file::read_text(path)?);
    Ok(match FileKind::of(source.text()) {
        FileKind::Profile => {
            let profile = Profile::from_source(&source).map_err(FilesError::Invalid)?;
            CheckedFile::Profile(ProfileSummary::of(profile, path))
        }
        FileKind::Schedule => {
            let plan = FiringPlan::from_source(&source, path.parent(), furnace)?;
            CheckedFile::Schedule(CompileResult::of(plan, path))
        }
        FileKind::Faults => {
            let faults = fault_list::read_faults(&source).map_err(FilesError::Invalid)?;
            let faults = faults.iter().map(fault_list::fault_text).collect();
            CheckedFile::Faults(FaultSummary { file: display_path(path), faults })
        }
    })
}

impl ProfileSummary {
    fn of(profile: Profile, path: &Path) -> Self {
        let limits = &profile.furnace.limits;
        Self {
            file: display_path(path),
            rated_watt: profile.spec.heater.rated_w,
            has_pump: profile.spec.pump.is_some(),
            programme_max_celsius: limits.programme_max.get().into(),
            ramp_max_kelvin_per_minute: limits.ramp_max_k_per_min.into(),
            furnace_digest: hex(&profile.furnace.digest()),
            furnace: profile.name,
        }
    }
}
