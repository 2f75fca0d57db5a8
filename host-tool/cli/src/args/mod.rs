//! What was typed.

pub mod device;
pub mod standin;

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum, ValueHint};
use clap_complete::Shell;
use saggar_plant::faults::{Fault, Scheduled};

use crate::commands::Change;
use device::DeviceCommand;
use saggar_files::nearest;
use saggar_schedule::document::BadPath;

/// Shown under every `--help`: lines of at most 48 columns, which a narrow screen does not tear.
const EXIT_CODES: &str = "\
Exit codes:
  0  all is well
  1  a rehearsal failed its verdict, a device
     refuses, or a replay differs
  2  something is wrong with a file, the
     command line, or what was to be written
  3  nobody knows: an order without an answer,
     or a replay with nothing to compare";

const CHECK_EXAMPLES: &str = "\
Examples:
  saggar check clean.toml
  saggar check *.toml --furnace weak.toml
  saggar check clean.toml --json

Exit codes:
  0  all schedules may run
  2  something is wrong";

const COMPILE_EXAMPLES: &str = "\
Examples:
  saggar compile clean.toml -o clean.programme

Exit codes:
  0  written
  2  something is wrong, nothing was written";

const SHOW_EXAMPLES: &str = "\
Examples:
  saggar show clean.programme
  saggar show clean.programme --digest a89609a1

Exit codes:
  0  shown
  2  it is no programme, or not that one";

const REHEARSE_EXAMPLES: &str = "\
Examples:
  saggar rehearse clean.toml
  saggar rehearse clean.toml --out trial-1
  saggar rehearse clean.toml --mains 90
  saggar rehearse clean.toml --json

Faults, as in --fault control-open@45:
  control-open, control-short, control-drift,
  limit-open, element-open, switch-stuck,
  closure-lost, seal-leaks, pump-dead,
  tick-late

Exit codes:
  0  the verdict passed
  1  it failed
  2  something is wrong and nothing was fired;
     or the report could not be written, and
     the verdict is printed all the same";

const KEYS_EXAMPLES: &str = "\
Examples:
  saggar keys schedule
  saggar keys schedule stage.soak
  saggar keys profile --markdown
  saggar keys schedule --json
                     the schema for an editor";

const SET_EXAMPLES: &str = "\
Examples:
  saggar set clean.toml work.count=3
  saggar set clean.toml stage[5].soak.minutes=20
  saggar set weak.toml heater.rated_watt=900

Exit codes:
  0  set
  2  `check` would find something wrong then;
     the file is as it was";

const REPLAY_EXAMPLES: &str = "\
Examples:
  saggar replay monday.firing
  saggar replay monday.firing --csv monday.csv

Exit codes:
  0  the core does again what it did,
     wherever it could be compared
  1  it does something else
  2  the log is damaged, or is none
  3  nothing could be compared";

/// Plan, check and rehearse a firing before the furnace is touched.
#[derive(Debug, Parser)]
#[command(name = "saggar", bin_name = "saggar", version, about, after_help = EXIT_CODES)]
#[command(arg_required_else_help = true, disable_help_subcommand = true)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// What all commands take.
    #[command(flatten)]
    pub global: Global,
}

/// What all commands take.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = "Everywhere")]
pub struct Global {
    /// Give the result as JSON on standard output
    #[arg(long, global = true)]
    pub json: bool,
    /// Say temperatures in degrees Fahrenheit; files stay in °C
    #[arg(long, global = true)]
    pub fahrenheit: bool,
    /// Colours: NO_COLOR is respected
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto")]
    pub color: Color,
}

/// When to use colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Color {
    /// On a terminal.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// A kind of file that a person writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FileKind {
    /// A schedule.
    Schedule,
    /// A furnace profile.
    Profile,
}

/// Which furnace.
#[derive(Debug, ClapArgs)]
pub struct Furnace {
    /// Furnace profile to use instead of the one that the schedule names
    #[arg(long, value_name = "PROFILE", value_hint = ValueHint::FilePath)]
    pub furnace: Option<PathBuf>,
}

/// How to rehearse.
#[derive(Debug, ClapArgs)]
pub struct Rehearse {
    /// Schedule to rehearse
    #[arg(value_hint = ValueHint::FilePath)]
    pub schedule: PathBuf,
    /// The furnace.
    #[command(flatten)]
    pub furnace: Furnace,
    /// Folder for the report [default: rehearsals/NAME, with what differs from a plain run]
    #[arg(short, long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub out: Option<PathBuf>,
    /// Write no report, only say the verdict
    #[arg(long, conflicts_with = "out")]
    pub no_report: bool,
    /// Draw the chart as chart.png, too: a build with the feature png can
    #[arg(long, conflicts_with = "no_report")]
    pub png: bool,
    /// Seed of all noise: the same seed gives the same firing, bit for bit
    #[arg(long, value_name = "NUMBER", default_value = "1", value_parser = seed)]
    #[arg(allow_hyphen_values = true)]
    pub seed: u64,
    /// Mains voltage in percent of the nominal one, 70 to 120
    #[arg(long, value_name = "PERCENT", default_value = "100", value_parser = mains)]
    #[arg(allow_hyphen_values = true)]
    pub mains: f64,
    /// Something that goes wrong, and at which minute; may be given more than once
    #[arg(long = "fault", value_name = "FAULT@MINUTE", value_parser = fault)]
    pub faults: Vec<Scheduled>,
    /// Seconds that the operator takes to answer a hold
    #[arg(long, value_name = "SECONDS", default_value = "30", value_parser = operator)]
    #[arg(allow_hyphen_values = true)]
    pub operator: f64,
    /// The operator never answers a hold
    #[arg(long, conflicts_with = "operator")]
    pub no_operator: bool,
}

fn mains(typed: &str) -> Result<f64, String> {
    let percent = number(typed)?;
    if (70.0..=120.0).contains(&percent) {
        Ok(percent)
    } else {
        Err("give 70 to 120 percent of the nominal voltage".to_owned())
    }
}

fn fault(typed: &str) -> Result<Scheduled, String> {
    let (name, minute) =
        typed.split_once('@').ok_or("give a fault and a minute, such as control-open@45")?;
    let fault = Fault::named(name).ok_or_else(|| {
        let known = Fault::ALL.map(Fault::name);
        match nearest(name, known) {
            Some(meant) => format!("there is no fault `{name}`; did you mean `{meant}`?"),
            None => format!("there is no fault `{name}`; there are {}", known.join(", ")),
        }
    })?;
    if minute.is_empty() {
        return Err(format!("the minute is missing: such as {name}@45"));
    }
    let minute = number(minute)?;
    if (0.0..=4320.0).contains(&minute) {
        Ok(Scheduled { at_s: minute * 60.0, fault })
    } else {
        Err("give a minute from 0 to 4320 (three days)".to_owned())
    }
}

fn seed(typed: &str) -> Result<u64, String> {
    typed.parse().map_err(|_| format!("give a whole number from 0 to {}", u64::MAX))
}

fn operator(typed: &str) -> Result<f64, String> {
    let seconds = number(typed)?;
    if (0.0..=86_400.0).contains(&seconds) {
        Ok(seconds)
    } else {
        Err("give 0 to 86400 seconds (a day); --no-operator never answers".to_owned())
    }
}

fn digest(typed: &str) -> Result<String, String> {
    let typed = typed.to_ascii_lowercase();
    if (8..=64).contains(&typed.len()) && typed.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        Ok(typed)
    } else {
        Err("give the first 8 or more of the digest's 64 digits, 0 to 9 and a to f".to_owned())
    }
}

fn change(typed: &str) -> Result<Change, String> {
    let (path, value) =
        typed.split_once('=').ok_or("give a key and its value, such as work.count=3")?;
    let path = path.trim().parse().map_err(|bad: BadPath| bad.to_string())?;
    Ok((path, value.trim().to_owned()))
}

fn number(typed: &str) -> Result<f64, String> {
    if typed.contains(',') {
        return Err(format!("write {} with a decimal point", typed.replace(',', ".")));
    }
    typed.parse().map_err(|_| "give a number, such as 45 or 2.5".to_owned())
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say everything that is wrong with schedules and their furnaces
    #[command(after_help = CHECK_EXAMPLES)]
    Check {
        /// Schedules to check
        #[arg(required = true, value_name = "SCHEDULE", value_hint = ValueHint::FilePath)]
        schedules: Vec<PathBuf>,
        /// The furnace.
        #[command(flatten)]
        furnace: Furnace,
    },
    /// Fire a schedule on the simulated furnace and judge what becomes of the work
    #[command(after_help = REHEARSE_EXAMPLES)]
    Rehearse(Rehearse),
    /// Turn a schedule into a programme, the bytes that a furnace runs
    #[command(after_help = COMPILE_EXAMPLES)]
    Compile {
        /// Schedule to compile
        #[arg(value_hint = ValueHint::FilePath)]
        schedule: PathBuf,
        /// File to write
        #[arg(short, long, value_name = "FILE.programme", value_hint = ValueHint::FilePath)]
        output: PathBuf,
        /// Replace the file if it is there already
        #[arg(long)]
        force: bool,
        /// The furnace.
        #[command(flatten)]
        furnace: Furnace,
    },
    /// Show the steps of a compiled programme
    #[command(after_help = SHOW_EXAMPLES)]
    Show {
        /// Programme to show
        #[arg(value_name = "FILE.programme", value_hint = ValueHint::FilePath)]
        programme: PathBuf,
        /// Refuse a programme that has not this digest: 8 digits or more of it
        #[arg(long, value_name = "HEX", value_parser = digest)]
        digest: Option<String>,
    },
    /// List what may stand in a schedule or a furnace profile
    #[command(after_help = KEYS_EXAMPLES)]
    Keys {
        /// Of which file
        file: FileKind,
        /// Only of this section, such as work.coat or stage.ramp
        section: Option<String>,
        /// As tables in Markdown
        #[arg(long)]
        markdown: bool,
    },
    /// Set keys in a schedule or a furnace profile and leave the rest of it as it is
    #[command(after_help = SET_EXAMPLES)]
    Set {
        /// Schedule or profile to change
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        /// What to set, such as work.count=3; stages count from 1: stage[5].soak.minutes=20
        #[arg(required = true, value_name = "KEY=VALUE", value_parser = change)]
        changes: Vec<Change>,
    },
    /// Stand in for a furnace: the firmware, its parts and the chamber, without hardware
    #[command(after_help = standin::EXAMPLES)]
    Standin(standin::StandIn),
    /// Talk to a furnace's controller
    #[command(subcommand, arg_required_else_help = true)]
    Device(DeviceCommand),
    /// Run a recorded firing again and compare every output
    #[command(after_help = REPLAY_EXAMPLES)]
    Replay {
        /// Log that `device watch --record` wrote
        #[arg(value_name = "FILE.firing", value_hint = ValueHint::FilePath)]
        log: PathBuf,
        /// Write the ticks as comma-separated values, too
        #[arg(long, value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
        csv: Option<PathBuf>,
    },
    /// Print a completion script for a shell
    #[command(hide = true)]
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print the manual page
    #[command(hide = true)]
    Man,
}
