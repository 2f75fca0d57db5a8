//! Arguments of `device`.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args as ClapArgs, Subcommand, ValueHint};

use super::help::{self, with_facts};
use super::values::{FurnaceArg, id, minutes};
use saggar_client::link::port::{self, PortAddress};

/// Default rate of a serial port (bit/s).
const BAUD: u32 = 115_200;

/// The port of a device.
#[derive(Debug, ClapArgs)]
pub struct PortArgs {
    /// Port of the device: /dev/ttyACM0, COM3, tcp:127.0.0.1:7430
    #[arg(long, value_name = "PORT")]
    pub port: PortAddress,
    /// Rate of a serial port in bit/s; the device must have the same
    #[arg(long, value_name = "BIT/S", default_value_t = BAUD)]
    #[arg(value_parser = clap::value_parser!(u32).range(300..=12_000_000))]
    pub baud: u32,
}

impl From<&PortArgs> for port::PortConfig {
    fn from(PortArgs { port, baud }: &PortArgs) -> Self {
        Self { address: port.clone(), baud: *baud }
    }
}

/// The subcommands of `device key`.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Draw a new key into a file that only you may read
    #[command(after_help = with_facts(help::KEY_NEW))]
    New {
        /// File to write; it must not be there yet
        #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
        out: PathBuf,
    },
}

/// How to upload.
#[derive(Debug, ClapArgs)]
pub struct UploadArgs {
    /// Schedule, or programme that `compile` wrote
    #[arg(value_name = "SCHEDULE.toml or FILE.programme", value_hint = ValueHint::FilePath)]
    pub file: PathBuf,
    /// Key of the device
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub key: PathBuf,
    /// Clearance of the rehearsal [default: rehearsals/NAME/clearance.json]
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub clearance: Option<PathBuf>,
    /// The furnace.
    #[command(flatten)]
    pub furnace: FurnaceArg,
    /// The device.
    #[command(flatten)]
    pub at: PortArgs,
}

/// How to watch.
#[derive(Debug, ClapArgs)]
pub struct WatchArgs {
    /// Write every tick into a recording for `replay`; the file must not be there yet
    #[arg(long, value_name = "FILE.firing", value_hint = ValueHint::FilePath)]
    pub record: Option<PathBuf>,
    /// Stop watching when the firing has ended
    #[arg(long)]
    pub until_end: bool,
    /// Give up after this many minutes without a connection
    #[arg(long, value_name = "MINUTES", default_value = "10", value_parser = minutes)]
    pub give_up: Duration,
    /// Key of the device: typing stop and Enter then stops the firing
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub key: Option<PathBuf>,
    /// Schedule of the firing: shows the names of its stages and the questions of its holds
    #[arg(long, value_name = "SCHEDULE.toml", value_hint = ValueHint::FilePath)]
    pub schedule: Option<PathBuf>,
    /// The furnace.
    #[command(flatten)]
    pub furnace: FurnaceArg,
    /// The device.
    #[command(flatten)]
    pub at: PortArgs,
}

/// How to make settings.
#[derive(Debug, ClapArgs)]
pub struct SettingsArgs {
    /// Furnace profile
    #[arg(value_hint = ValueHint::FilePath)]
    pub profile: PathBuf,
    /// Key of the device; without one it takes no orders
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub key: Option<PathBuf>,
    /// Name of the device: 1 to 8 letters, digits, - or _
    #[arg(long, value_name = "TEXT", value_parser = id)]
    pub id: String,
    /// File to write; it must not be there yet
    #[arg(short, long, value_name = "FILE.settings", value_hint = ValueHint::FilePath)]
    pub output: PathBuf,
}

/// Where the messages come from.
#[derive(Debug, ClapArgs)]
pub struct MessagesArgs {
    /// Image that runs on the device, with its symbols
    #[arg(long, value_name = "IMAGE", value_hint = ValueHint::FilePath)]
    pub elf: PathBuf,
    /// Port of the messages
    #[arg(long, value_name = "PORT", required_unless_present = "file")]
    pub port: Option<PortAddress>,
    /// File with the bytes of the messages
    #[arg(long, value_name = "FILE", conflicts_with = "port", value_hint = ValueHint::FilePath)]
    pub file: Option<PathBuf>,
    /// Rate of a serial port in bit/s
    #[arg(long, value_name = "BIT/S", default_value_t = BAUD)]
    #[arg(value_parser = clap::value_parser!(u32).range(300..=12_000_000))]
    pub baud: u32,
}

/// The subcommands of `device`.
#[derive(Debug, Subcommand)]
pub enum DeviceCommand {
    /// Keys: whoever has a device's key may upload and stop
    #[command(subcommand)]
    Key(KeyCommand),
    /// Make the settings to store in a device by hand: furnace, key, name
    #[command(after_help = with_facts(help::SETTINGS))]
    Settings(SettingsArgs),
    /// Show a device's name, programme and status
    #[command(after_help = with_facts(help::INFO))]
    Info {
        /// The device.
        #[command(flatten)]
        at: PortArgs,
    },
    /// Send a programme that is cleared: its rehearsal passed, or was let go on with a reason
    #[command(after_help = with_facts(help::UPLOAD))]
    Upload(UploadArgs),
    /// Watch a firing, and record it
    #[command(after_help = with_facts(help::WATCH))]
    Watch(WatchArgs),
    /// Show the device's own log
    #[command(after_help = with_facts(help::LOG))]
    Log {
        /// Number of the first line
        #[arg(long, value_name = "NUMBER", default_value = "0")]
        from: u32,
        /// The device.
        #[command(flatten)]
        at: PortArgs,
    },
    /// Stop the firing
    #[command(after_help = with_facts(help::STOP))]
    Stop {
        /// Key of the device
        #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
        key: PathBuf,
        /// The device.
        #[command(flatten)]
        at: PortArgs,
    },
    /// Show the messages of an image to its developers
    #[command(after_help = with_facts(help::MESSAGES))]
    Messages(MessagesArgs),
}
