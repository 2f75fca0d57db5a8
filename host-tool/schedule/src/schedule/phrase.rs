//! Stages in a phrase, as a stage table shows them.

use super::{Pace, StageKind};
use saggar_files::say::{difference, duration, rate, temperature, tidy};

impl StageKind {
    /// What the stage does, in a phrase: "to 1120 °C at 50 K/min"; in degrees Fahrenheit as
    /// well if that is wanted.
    pub fn phrase(&self, fahrenheit: bool) -> String {
        let celsius = |celsius: f64| temperature(celsius, fahrenheit);
        let minutes = |minutes: &f64| duration(minutes * 60.0);
        match self {
            Self::Ramp { to_celsius, pace: Pace::KelvinPerMinute(pace) } => {
                format!("to {} at {}", celsius(*to_celsius), rate(*pace, fahrenheit))
            }
            Self::Ramp { to_celsius, pace: Pace::Minutes(time) } => {
                format!("to {} in {}", celsius(*to_celsius), minutes(time))
            }
            Self::Soak { minutes: time, band_kelvin, .. } => {
                format!("{} within {}", minutes(time), difference(*band_kelvin, fahrenheit))
            }
            Self::Vacuum { from_celsius, to_hectopascal, .. } => {
                format!(
                    "vacuum of {} hPa from {}",
                    tidy(*to_hectopascal),
                    celsius(*from_celsius)
                )
            }
            Self::Cool { below_celsius } => format!("heat off, to {}", celsius(*below_celsius)),
            Self::Opening { open: true, minutes: time } => {
                format!("open for {}", minutes(time))
            }
            Self::Opening { open: false, minutes: time } => {
                format!("shut for {}", minutes(time))
            }
            Self::Hold { minutes: time, go_on } => {
                let then = if *go_on { "goes on" } else { "ends" };
                format!("asks the operator; after {} it {then}", minutes(time))
            }
        }
    }
}
