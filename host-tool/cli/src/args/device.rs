//! What was typed for a device.

use std::path::PathBuf;
use std::time::Duration;

use clap::{Args as ClapArgs, Subcommand, ValueHint};

use saggar_client::link::port::Place;

const KEY_EXAMPLES: &str = "\
Examples:
  saggar device key new --out bench.key

Exit codes:
  0  written
  2  something is wrong, nothing was written";

const SETTINGS_EXAMPLES: &str = "\
Examples:
  saggar device settings dunlin.toml \\
    --key bench.key --id bench-7 \\
    -o bench.settings

Mind:
  The file holds the key: treat it like one.

Exit codes:
  0  written
  2  something is wrong, nothing was written";

const INFO_EXAMPLES: &str = "\
Examples:
  saggar device info --port /dev/ttyACM0
  saggar device info --port COM3
  saggar device info --port tcp:127.0.0.1:7430

Exit codes:
  0  shown
  2  nobody answers";

const UPLOAD_EXAMPLES: &str = "\
Examples:
  saggar device upload clean.toml \\
    --port /dev/ttyACM0 --key bench.key

Mind:
  Start is a button at the furnace. No
  command starts heat.

Exit codes:
  0  the device has the programme
  1  the device refuses it
  2  something is wrong here, or on the line
  3  the line failed, and nobody knows whether
     the device has it: ask with `device info`";

const WATCH_EXAMPLES: &str = "\
Examples:
  saggar device watch --port /dev/ttyACM0
  saggar device watch --port COM3 \\
    --record monday.firing --until-end

Exit codes:
  0  watched to the end, or stopped by you
  2  the line or the file failed";

const LOG_EXAMPLES: &str = "\
Examples:
  saggar device log --port /dev/ttyACM0
  saggar device log --port COM3 --from 120

Exit codes:
  0  shown
  2  nobody answers";

const STOP_EXAMPLES: &str = "\
Examples:
  saggar device stop --port /dev/ttyACM0 \\
    --key bench.key

Mind:
  The stop button at the furnace is quicker
  and needs no computer.

Exit codes:
  0  the device has taken the order
  1  the device refuses it
  2  something is wrong here, or on the line
  3  the line failed, and nobody knows whether
     the device has taken it";

const MESSAGES_EXAMPLES: &str = "\
Examples:
  saggar device messages --elf image.elf \\
    --port /dev/ttyACM1
  saggar device messages --elf image.elf \\
    --file messages.bin

Mind:
  Only a build with the feature messages can:
  cargo run --release --features messages -- \\
    device messages ...

Exit codes:
  0  shown
  2  the image has no messages, the line
     failed, or this build cannot";

/// Where a device is.
#[derive(Debug, ClapArgs)]
pub struct At {
    /// Port of the device: /dev/ttyACM0, COM3, tcp:127.0.0.1:7430
    #[arg(long, value_name = "PORT")]
    pub port: Place,
    /// Rate of a serial port in bit/s, as the device has it
    #[arg(long, value_name = "BIT/S", default_value_t = BAUD)]
    #[arg(value_parser = clap::value_parser!(u32).range(300..=12_000_000))]
    pub baud: u32,
}

/// Rate of a serial port (bit/s) when nobody says one.
pub const BAUD: u32 = 115_200;

/// What to do with keys.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Draw a new key into a file that only you may read
    #[command(after_help = KEY_EXAMPLES)]
    New {
        /// File to write; it must not be there yet
        #[arg(short, long, value_name = "FILE", value_hint = ValueHint::FilePath)]
        out: PathBuf,
    },
}

/// How to upload.
#[derive(Debug, ClapArgs)]
pub struct Upload {
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
    pub furnace: super::Furnace,
    /// The device.
    #[command(flatten)]
    pub at: At,
}

/// How to watch.
#[derive(Debug, ClapArgs)]
pub struct Watch {
    /// Write every tick into a log that `replay` reads; the file must not be there yet
    #[arg(long, value_name = "FILE.firing", value_hint = ValueHint::FilePath)]
    pub record: Option<PathBuf>,
    /// End when the firing has ended
    #[arg(long)]
    pub until_end: bool,
    /// Give up after so many minutes without the device
    #[arg(long, value_name = "MINUTES", default_value = "10", value_parser = minutes)]
    pub give_up: Duration,
    /// Key of the device: a line `stop` on standard input then ends the firing
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub key: Option<PathBuf>,
    /// The device.
    #[command(flatten)]
    pub at: At,
}

/// What to make of settings.
#[derive(Debug, ClapArgs)]
pub struct NewSettings {
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

/// Where messages come from.
#[derive(Debug, ClapArgs)]
pub struct Messages {
    /// Image that runs on the device, with its symbols
    #[arg(long, value_name = "IMAGE", value_hint = ValueHint::FilePath)]
    pub elf: PathBuf,
    /// Port of the messages
    #[arg(long, value_name = "PORT", required_unless_present = "file")]
    pub port: Option<Place>,
    /// File with the messages' bytes
    #[arg(long, value_name = "FILE", conflicts_with = "port", value_hint = ValueHint::FilePath)]
    pub file: Option<PathBuf>,
    /// Rate of a serial port in bit/s
    #[arg(long, value_name = "BIT/S", default_value_t = BAUD)]
    #[arg(value_parser = clap::value_parser!(u32).range(300..=12_000_000))]
    pub baud: u32,
}

/// What to do with a device.
#[derive(Debug, Subcommand)]
pub enum DeviceCommand {
    /// Keys: who holds a device's key may upload and stop
    #[command(subcommand)]
    Key(KeyCommand),
    /// Make the settings that are stored in a device by hand: furnace, key, name
    #[command(after_help = SETTINGS_EXAMPLES)]
    Settings(NewSettings),
    /// Who is there, and how it stands
    #[command(after_help = INFO_EXAMPLES)]
    Info {
        /// The device.
        #[command(flatten)]
        at: At,
    },
    /// Send a programme whose rehearsal passed
    #[command(after_help = UPLOAD_EXAMPLES)]
    Upload(Upload),
    /// Watch a furnace, and record what it does
    #[command(after_help = WATCH_EXAMPLES)]
    Watch(Watch),
    /// Show the device's own log
    #[command(after_help = LOG_EXAMPLES)]
    Log {
        /// Number of the first line
        #[arg(long, value_name = "NUMBER", default_value = "0")]
        from: u32,
        /// The device.
        #[command(flatten)]
        at: At,
    },
    /// End the firing
    #[command(after_help = STOP_EXAMPLES)]
    Stop {
        /// Key of the device
        #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
        key: PathBuf,
        /// The device.
        #[command(flatten)]
        at: At,
    },
    /// Show what an image says for its developers
    #[command(after_help = MESSAGES_EXAMPLES)]
    Messages(Messages),
}

fn minutes(typed: &str) -> Result<Duration, String> {
    match typed.parse::<f64>() {
        Ok(minutes) if (0.0..=10_080.0).contains(&minutes) => {
            Ok(Duration::from_secs_f64(minutes * 60.0))
        }
        Ok(_) | Err(_) => Err("give minutes from 0 to 10080 (a week)".to_owned()),
    }
}

/// The name of a device.
pub(super) fn id(typed: &str) -> Result<String, String> {
    let good = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_';
    if (1..=8).contains(&typed.len()) && typed.bytes().all(good) {
        Ok(typed.to_owned())
    } else {
        Err("give 1 to 8 letters, digits, - or _".to_owned())
    }
}
