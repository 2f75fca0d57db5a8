//! Parsers for the values of arguments.

use std::path::PathBuf;
use std::time::Duration;

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, ValueHint};
use saggar_bench::PlannedCut;
use saggar_plant::faults::Fault;

use crate::commands::{EXAMPLES, Example, KeyChange};
use saggar_schedule::document::KeyPathError;
use saggar_schedule::fault_list::{FaultTextError, parse_fault};
use saggar_schedule::keys::FileKind;

/// The option `--furnace`.
#[derive(Debug, ClapArgs)]
pub struct FurnaceArg {
    /// Furnace profile to use instead of the one that the schedule names
    #[arg(long, value_name = "PROFILE", value_hint = ValueHint::FilePath)]
    pub furnace: Option<PathBuf>,
}

pub(super) fn file_kind() -> impl TypedValueParser<Value = FileKind> {
    let of = |name: String| FileKind::ALL.into_iter().find(|kind| kind.name() == name);
    PossibleValuesParser::new(FileKind::ALL.map(FileKind::name))
        .try_map(move |name| of(name).ok_or("there is no such kind of file"))
}

pub(super) fn example() -> impl TypedValueParser<Value = &'static Example> {
    let each = |example: &Example| PossibleValue::new(example.name).help(example.about);
    PossibleValuesParser::new(EXAMPLES.iter().map(each))
        .try_map(|name| Example::named(&name).ok_or("there is no such example"))
}

pub(super) fn mains(typed: &str) -> Result<f64, String> {
    let percent = number(typed)?;
    if (70.0..=120.0).contains(&percent) {
        Ok(percent)
    } else {
        Err("give 70 to 120 percent of the nominal voltage".to_owned())
    }
}

pub(super) fn fault(typed: &str) -> Result<Fault, FaultTextError> {
    parse_fault(typed)
}

/// A temperature in °C; which ones are possible depends on the furnace.
pub(super) fn celsius(typed: &str) -> Result<f64, String> {
    let celsius = number(typed)?;
    if celsius.is_finite() { Ok(celsius) } else { Err("give a temperature in °C".to_owned()) }
}

/// A power cut: "95+10", "95+10min" or "95+30s".
pub(super) fn cut(typed: &str) -> Result<PlannedCut, String> {
    let (minute, length) = typed
        .split_once('+')
        .ok_or("give a minute and a length, such as 95+10 for ten minutes, or 95+30s")?;
    let (at_s, length_s) = match length.strip_suffix('s') {
        Some(seconds) => (number(minute)? * 60.0, number(seconds)?),
        None => {
            let minutes = number(length.strip_suffix("min").unwrap_or(length))?;
            (number(minute)? * 60.0, minutes * 60.0)
        }
    };
    if !(0.0..=4320.0 * 60.0).contains(&at_s) {
        return Err("give a minute from 0 to 4320 (three days)".to_owned());
    }
    if !(0.01..=86_400.0).contains(&length_s) {
        return Err("give a length from 0.01s to 1440 minutes (a day)".to_owned());
    }
    Ok(PlannedCut { at_s, length_s })
}

pub(super) fn seed(typed: &str) -> Result<u64, String> {
    typed.parse().map_err(|_| format!("give a whole number from 0 to {}", u64::MAX))
}

pub(super) fn operator(typed: &str) -> Result<f64, String> {
    let seconds = number(typed)?;
    if (0.0..=86_400.0).contains(&seconds) {
        Ok(seconds)
    } else {
        Err("give 0 to 86400 seconds (a day); --no-operator never answers".to_owned())
    }
}

pub(super) fn digest(typed: &str) -> Result<String, String> {
    let typed = typed.to_ascii_lowercase();
    if (8..=64).contains(&typed.len()) && typed.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        Ok(typed)
    } else {
        Err("give the first 8 or more of the digest's 64 digits, 0 to 9 and a to f".to_owned())
    }
}

pub(super) fn change(typed: &str) -> Result<KeyChange, String> {
    let (path, value) =
        typed.split_once('=').ok_or("give a key and its value, such as work.count=3")?;
    let path = path.trim().parse().map_err(|bad: KeyPathError| bad.to_string())?;
    Ok((path, value.trim().to_owned()))
}

fn number(typed: &str) -> Result<f64, String> {
    if typed.contains(',') {
        return Err(format!("write {} with a decimal point", typed.replace(',', ".")));
    }
    typed.parse().map_err(|_| "give a number, such as 45 or 2.5".to_owned())
}

pub(super) fn minutes(typed: &str) -> Result<Duration, String> {
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
