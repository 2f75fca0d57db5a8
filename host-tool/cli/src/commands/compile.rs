//! `compile`: compile a schedule and write the programme.

use std::path::Path;

use serde::Serialize;

use crate::error::CliError;
use saggar_files::atomic_file::{self, AtomicFile, WriteError};
use saggar_files::display_path;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::schedule::{ProgrammeSummary, late_ramps};

/// A schedule in which nothing is wrong, as a programme.
#[derive(Debug, Serialize)]
pub struct CompileResult {
    /// The file that was checked or written.
    pub file: String,
    /// Name of its furnace.
    pub furnace: String,
    /// The programme in a few figures.
    pub programme: ProgrammeSummary,
    /// The ramps that arrive clearly later than their rate says.
    pub late_ramps: Vec<LateRampListing>,
}

/// A ramp that arrives clearly later than its rate says, because the heat that the element stores would
/// carry the reading past its end.
#[derive(Debug, Serialize)]
pub struct LateRampListing {
    /// Which stage, from 1.
    pub stage: usize,
    /// The stage in a sentence.
    #[serde(skip)]
    pub phrase: String,
    /// Its target (°C).
    pub to_celsius: f64,
    /// Its duration at its rate (s).
    pub at_rate_seconds: f64,
    /// Its planned duration (s).
    pub planned_seconds: f64,
}

impl CompileResult {
    pub(super) fn of(firing: FiringPlan, file: &Path) -> Self {
        let late_ramps = late_ramps(&firing.image, &firing.profile.furnace.heater)
            .into_iter()
            .filter_map(|ramp| {
                let origin = firing.map.origin(ramp.step)?;
                Some(LateRampListing {
                    stage: origin.number,
                    phrase: origin.phrase(),
                    to_celsius: ramp.to_c,
                    at_rate_seconds: ramp.at_rate_s,
                    planned_seconds: ramp.takes_s,
                })
            })
            .collect();
        let (furnace, programme) = (firing.profile.name, firing.summary);
        Self { file: display_path(file), furnace, programme, late_ramps }
    }
}

/// Compiles a schedule and writes the programme, atomically.
///
/// # Errors
/// The schedule or its profile is invalid, or the file cannot be written.
pub fn compile(
    schedule: &Path,
    furnace: Option<&Path>,
    to: &Path,
    force: bool,
) -> Result<CompileResult, CliError> {
    let firing = FiringPlan::load(schedule, furnace)?;
    let refuse = |why: &str| Err(WriteError::new(to, why).into());
    if to.as_os_str() == "-" {
        return refuse("- is no file: name one, such as clean.programme");
    }
    if to.is_dir() {
        return refuse("it is a folder: name a file in it");
    }
    if same_file(schedule, to) {
        return refuse("it is the schedule itself");
    }
    if same_file(&firing.profile_path, to) {
        return refuse("it is the furnace profile that it is compiled for");
    }
    atomic_file::remove_stale(&atomic_file::parent_folder(to));
    AtomicFile::create(to, firing.image.bytes())?.commit(force)?;
    Ok(CompileResult::of(firing, to))
}

fn same_file(one: &Path, other: &Path) -> bool {
    let real = |path: &Path| path.canonicalize().ok();
    real(one).is_some_and(|one| real(other) == Some(one))
}
