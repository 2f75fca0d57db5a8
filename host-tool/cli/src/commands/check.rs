//! `check`: everything that is wrong with schedules and their furnaces.

use std::path::{Path, PathBuf};

use super::compile::CompiledSchedule;
use saggar_files::{Diagnostic, FilesError, display_path};
use saggar_schedule::firing_plan::FiringPlan;

/// What came of one schedule.
#[derive(Debug)]
pub struct CheckResult {
    /// Its file.
    pub file: String,
    /// What it is, or why it may not run.
    pub outcome: Result<CompiledSchedule, Vec<Diagnostic>>,
}

/// Checks schedules, each with the furnace that it names or with the one given.
pub fn check(schedules: &[PathBuf], furnace: Option<&Path>) -> Vec<CheckResult> {
    schedules.iter().map(|schedule| check_one(schedule, furnace)).collect()
}

fn check_one(schedule: &Path, furnace: Option<&Path>) -> CheckResult {
    let file = display_path(schedule);
    let outcome = match FiringPlan::load(schedule, furnace) {
        Ok(firing) => Ok(CompiledSchedule::of(firing, schedule)),
        Err(FilesError::Invalid(findings)) => Err(findings),
        // Nothing is written here, so nothing else can go wrong but reading.
        Err(error @ (FilesError::AlreadyExists(_) | FilesError::Write(_))) => {
            Err(vec![Diagnostic::for_file(&file, error.to_string(), "")])
        }
    };
    CheckResult { file, outcome }
}
