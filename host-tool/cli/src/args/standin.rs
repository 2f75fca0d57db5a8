//! Arguments of `standin`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueHint};
use saggar_plant::faults::Fault;

use super::values::{FurnaceArg, celsius, fault, id, seed};
use crate::commands::SEED;
use saggar_standin::listener::ListenAddress;
use saggar_standin::pace::Speed;
use saggar_standin::presses::PlannedPress;

/// Options of a stand-in.
#[derive(Debug, ClapArgs)]
pub struct StandInArgs {
    /// Schedule whose work is in the furnace; upload its programme with `device upload`
    #[arg(value_hint = ValueHint::FilePath)]
    pub schedule: PathBuf,
    /// The furnace.
    #[command(flatten)]
    pub furnace: FurnaceArg,
    /// Where to listen: an address of this machine, or pty for a pseudo-terminal
    #[arg(long, value_name = "WHERE", default_value = "tcp:127.0.0.1:7430")]
    pub listen: ListenAddress,
    /// Key file of the stand-in; without one it takes no orders
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub key: Option<PathBuf>,
    /// Its name: 1 to 8 letters, digits, - or _
    #[arg(long, value_name = "TEXT", default_value = "stand-in", value_parser = id)]
    pub id: String,
    /// File for its flash, so that uploads survive a restart; created if there is none
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub memory: Option<PathBuf>,
    /// Times faster than real time while a firing runs, or max
    #[arg(long, value_name = "TIMES", default_value = "1")]
    pub speed: Speed,
    /// Simulated operator: starts uploads, answers questions after half a minute
    #[arg(long)]
    pub operator: bool,
    /// Press a button at this second; may be repeated
    #[arg(long = "press", value_name = "BUTTON@SECOND")]
    pub presses: Vec<PlannedPress>,
    /// End after the first firing, with its verdict as exit code
    #[arg(long)]
    pub once: bool,
    /// Folder for the report of a firing
    #[arg(short, long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub out: Option<PathBuf>,
    /// Draw the report's chart as chart.png, too: a build with the feature png can
    #[arg(long, requires = "out")]
    pub png: bool,
    /// Seed of all noise
    #[arg(long, value_name = "NUMBER", default_value_t = SEED, value_parser = seed)]
    pub seed: u64,
    /// Temperature in °C at which the furnace stands evenly warm before each firing [default: the room's]
    #[arg(long, value_name = "CELSIUS", value_parser = celsius, allow_hyphen_values = true)]
    pub start: Option<f64>,
    // The form of a fault, not a link.
    #[allow(rustdoc::broken_intra_doc_links)]
    /// Fault of the firing: NAME[=SEVERITY]@FROM[..UNTIL][,every=SECONDS,for=SECONDS], in minutes or before the
    /// start, such as control-drift=30@45..60; may be repeated
    #[arg(long = "fault", value_name = "NAME@MINUTE", value_parser = fault)]
    pub faults: Vec<Fault>,
    /// File with faults of the firing
    #[arg(long = "faults", value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub fault_file: Option<PathBuf>,
    /// Image for the emulated board to run instead of the firmware in this process
    #[arg(long, value_name = "ELF", value_hint = ValueHint::FilePath)]
    pub image: Option<PathBuf>,
    /// Connect clients through the emulated board's serial port; not with --listen pty
    #[arg(long, requires = "image")]
    pub serial: bool,
    /// Count the emulated board's instructions
    #[arg(long, requires = "image")]
    pub count: bool,
    /// File for the image's messages, to be read with `device messages`
    #[arg(long, value_name = "FILE", requires = "image", value_hint = ValueHint::FilePath)]
    pub messages: Option<PathBuf>,
}
