//! The command line.

pub mod campaign;
pub mod device;
mod generated;
mod help;
pub mod replay;
pub mod standin;
mod values;

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum, ValueHint};
use clap_complete::Shell;
use saggar_bench::PlannedCut;
use saggar_plant::faults::Fault;
use saggar_schedule::keys::FileKind;
use saggar_schedule::reason::Reason;

use self::help::with_facts;
use self::values::{
    FurnaceArg, celsius, change, cut, digest, example, fault, file_kind, mains, minutes,
    operator, seed,
};
use crate::commands::{Example, KeyChange, MAINS, OPERATOR_S, SEED};
use campaign::CampaignArgs;
use device::DeviceCommand;

pub use generated::{completions, manual_pages};

/// Plan, check and rehearse a firing before the furnace is touched.
#[derive(Debug, Parser)]
#[command(name = "saggar", bin_name = "saggar", version, about, after_help = with_facts(help::ALL))]
#[command(arg_required_else_help = true)]
pub struct CommandLine {
    /// The command.
    #[command(subcommand)]
    pub command: Command,
    /// Options of all commands.
    #[command(flatten)]
    pub global: GlobalArgs,
}

/// Options of all commands.
#[derive(Debug, ClapArgs)]
#[command(next_help_heading = "Options of every command")]
pub struct GlobalArgs {
    /// Print the result as JSON on standard output
    #[arg(long, global = true)]
    pub json: bool,
    /// Show temperatures in °F; schedules and data files stay in °C
    #[arg(long, global = true)]
    pub fahrenheit: bool,
    /// When to use colours; NO_COLOR is respected
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

/// Arguments of `rehearse`.
#[derive(Debug, ClapArgs)]
pub struct RehearseArgs {
    /// Schedule to rehearse
    #[arg(value_hint = ValueHint::FilePath)]
    pub schedule: PathBuf,
    /// The furnace.
    #[command(flatten)]
    pub furnace: FurnaceArg,
    /// Folder of the report [default: rehearsals/NAME, plus any conditions that are not the defaults]
    #[arg(short, long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub out: Option<PathBuf>,
    /// Print the verdict and write no report
    #[arg(long, conflicts_with = "out")]
    pub no_report: bool,
    /// Also draw the chart as chart.png; needs a build with the feature png
    #[arg(long, conflicts_with = "no_report")]
    pub png: bool,
    /// Why the programme may go on although its verdict is NOT KNOWN: the clearance records it, at most 200
    /// characters
    #[arg(long, value_name = "TEXT", conflicts_with = "no_report")]
    pub reason: Option<Reason>,
    /// Seed of the noise: the same seed gives the same firing, bit for bit
    #[arg(long, value_name = "NUMBER", default_value_t = SEED, value_parser = seed)]
    #[arg(allow_hyphen_values = true)]
    pub seed: u64,
    /// Mains voltage in percent of nominal, 70 to 120
    #[arg(long, value_name = "PERCENT", default_value_t = MAINS * 100.0, value_parser = mains)]
    #[arg(allow_hyphen_values = true)]
    pub mains: f64,
    // The form of a fault, not a link.
    #[allow(rustdoc::broken_intra_doc_links)]
    /// Fault to inject: NAME[=SEVERITY]@FROM[..UNTIL][,every=SECONDS,for=SECONDS], in minutes or before the
    /// start, such as control-drift=30@45..60; may be repeated
    #[arg(long = "fault", value_name = "NAME@MINUTE", value_parser = fault)]
    pub faults: Vec<Fault>,
    /// File with faults to inject
    #[arg(long = "faults", value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub fault_file: Option<PathBuf>,
    /// Minute at which the power fails, and for how long (10 for minutes, or 30s); may be repeated. The
    /// operator then goes on, as he answers a hold
    #[arg(long = "cut", value_name = "MINUTE+DURATION", value_parser = cut)]
    pub cuts: Vec<PlannedCut>,
    /// Temperature in °C at which the furnace stands evenly warm; the work is put in cold [default: the
    /// room's]
    #[arg(long, value_name = "CELSIUS", value_parser = celsius, conflicts_with = "after")]
    #[arg(allow_hyphen_values = true)]
    pub start: Option<f64>,
    /// Begin with the furnace as another rehearsal left it: the folder of its report; the work is put in
    /// cold
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub after: Option<PathBuf>,
    /// Minutes since that rehearsal, in which the furnace cools, its lift or door as it was left
    #[arg(long, value_name = "MINUTES", default_value = "0", value_parser = minutes)]
    #[arg(requires = "after", allow_hyphen_values = true)]
    pub pause: Duration,
    /// Seconds until the operator answers a hold
    #[arg(long, value_name = "SECONDS", default_value_t = OPERATOR_S, value_parser = operator)]
    #[arg(allow_hyphen_values = true)]
    pub operator: f64,
    /// The operator never answers a hold, and does not go on after a power cut
    #[arg(long, conflicts_with = "operator")]
    pub no_operator: bool,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write a schedule, a furnace profile or faults from an example; without a name, list the examples
    #[command(after_help = with_facts(help::NEW))]
    New {
        /// Example to start from
        #[arg(value_parser = example())]
        example: Option<&'static Example>,
        /// File to write, or the folder for it [default: EXAMPLE.toml]
        #[arg(value_hint = ValueHint::FilePath)]
        file: Option<PathBuf>,
    },
    /// Report everything that is wrong with schedules, furnace profiles and lists of faults
    #[command(after_help = with_facts(help::CHECK))]
    Check {
        /// Schedules, furnace profiles or lists of faults to check
        #[arg(required = true, value_name = "FILE", value_hint = ValueHint::FilePath)]
        files: Vec<PathBuf>,
        /// The furnace.
        #[command(flatten)]
        furnace: FurnaceArg,
    },
    /// Fire a schedule on the simulated furnace and give a verdict on the work
    #[command(after_help = with_facts(help::REHEARSE))]
    Rehearse(RehearseArgs),
    /// Compile a schedule into a programme, the bytes that a furnace runs
    #[command(after_help = with_facts(help::COMPILE))]
    Compile {
        /// Schedule to compile
        #[arg(value_hint = ValueHint::FilePath)]
        schedule: PathBuf,
        /// File to write
        #[arg(short, long, value_name = "FILE.programme", value_hint = ValueHint::FilePath)]
        output: PathBuf,
        /// Replace an existing file
        #[arg(long)]
        force: bool,
        /// The furnace.
        #[command(flatten)]
        furnace: FurnaceArg,
    },
    /// Show the steps of a compiled programme
    #[command(after_help = with_facts(help::SHOW))]
    Show {
        /// Programme to show
        #[arg(value_name = "FILE.programme", value_hint = ValueHint::FilePath)]
        programme: PathBuf,
        /// Expected digest, at least 8 digits: any other programme is refused
        #[arg(long, value_name = "HEX", value_parser = digest)]
        digest: Option<String>,
    },
    /// List the keys of a schedule, a furnace profile or a list of faults
    #[command(after_help = with_facts(help::KEYS))]
    Keys {
        /// Kind of file
        #[arg(value_name = "KIND", value_parser = file_kind())]
        file: FileKind,
        /// Only this section, such as work.coat or stage.ramp
        section: Option<String>,
        /// Print tables in Markdown
        #[arg(long)]
        markdown: bool,
    },
    /// Change values in a schedule, a profile or a list of faults and leave the rest of it as it is
    #[command(after_help = with_facts(help::SET))]
    Set {
        /// File to change
        #[arg(value_hint = ValueHint::FilePath)]
        file: PathBuf,
        // A path of a key, not a link.
        #[allow(rustdoc::broken_intra_doc_links)]
        /// Keys and values, such as work.count=3; stages count from 1: stage[5].soak.minutes=20
        #[arg(required = true, value_name = "KEY=VALUE", value_parser = change)]
        changes: Vec<KeyChange>,
    },
    /// List every trip, how to try it out on a furnace, and what to do after it
    #[command(after_help = with_facts(help::TRIPS))]
    Trips {
        /// Profile of the furnace: the list then says what it cannot see
        #[arg(value_hint = ValueHint::FilePath)]
        profile: Option<PathBuf>,
    },
    /// Fire thousands of times with something wrong, and report what did not hold
    #[command(after_help = with_facts(help::CAMPAIGN))]
    Campaign(CampaignArgs),
    /// Stand in for a furnace: the firmware, its parts and the chamber, without hardware
    #[command(after_help = with_facts(help::STANDIN))]
    Standin(standin::StandInArgs),
    /// Talk to a furnace's controller
    #[command(subcommand, arg_required_else_help = true)]
    Device(DeviceCommand),
    /// Run a recorded firing again and compare every output; with its schedule, judge the work
    #[command(after_help = with_facts(help::REPLAY))]
    Replay(replay::ReplayArgs),
    /// Print a completion script for a shell
    #[command(after_help = with_facts(help::COMPLETIONS))]
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print the manual page, or write the pages of all commands into a folder
    #[command(after_help = with_facts(help::MAN))]
    Man {
        /// Folder for the pages
        #[arg(value_hint = ValueHint::DirPath)]
        folder: Option<PathBuf>,
    },
}
