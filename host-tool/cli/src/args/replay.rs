//! Arguments of `replay`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueHint};

use super::values::celsius;

/// Arguments of `replay`.
#[derive(Debug, ClapArgs)]
pub struct ReplayArgs {
    /// Recording that `device watch --record` wrote
    #[arg(value_name = "FILE.firing", value_hint = ValueHint::FilePath)]
    pub log: PathBuf,
    /// Also write the ticks as comma-separated values
    #[arg(long, value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    pub csv: Option<PathBuf>,
    /// Schedule that was fired: gives a verdict on its work
    #[arg(long, value_name = "SCHEDULE", value_hint = ValueHint::FilePath)]
    pub schedule: Option<PathBuf>,
    /// Furnace profile to use instead of the one that the schedule names
    #[arg(long, value_name = "PROFILE", requires = "schedule")]
    #[arg(value_hint = ValueHint::FilePath)]
    pub furnace: Option<PathBuf>,
    /// Temperature in °C at which the furnace stood evenly warm [default: what the sensor read, if that is
    /// warmer than the room]
    #[arg(long, value_name = "CELSIUS", value_parser = celsius, requires = "schedule")]
    #[arg(allow_hyphen_values = true)]
    pub start: Option<f64>,
    /// Clearance of the programme, whose reason is shown [default: that of the schedule's rehearsal, if it
    /// is there]
    #[arg(long, value_name = "FILE", requires = "schedule", value_hint = ValueHint::FilePath)]
    pub clearance: Option<PathBuf>,
    /// Folder for a report
    #[arg(short, long, value_name = "FOLDER", requires = "schedule")]
    #[arg(value_hint = ValueHint::DirPath)]
    pub out: Option<PathBuf>,
}
