//! Stages in a phrase, as a stage table shows them.

use super::{Pace, StageKind};
use saggar_plant::say::{Scale, duration, tidy};

impl StageKind {
    /// What the stage does, in a phrase: "to 1120 °C at 50 K/min".
    pub fn phrase(&self, scale: Scale) -> String {
        let celsius = |celsius: f64| scale.temperature(celsius);
        let minutes = |minutes: &f64| duration(minutes * 60.0);
        match self {
            Self::Ramp { to_celsius, pace: Pace::KelvinPerMinute(pace) } => {
                format!("to {} at {}", celsius(*to_celsius), scale.rate(*pace))
            }
            Self::Ramp { to_celsius, pace: Pace::Minutes(time) } => {
                format!("to {} in {}", celsius(*to_celsius), minutes(time))
            }
            Self::Soak { minutes: time, band_kelvin, .. } => {
                format!("{} within {}", minutes(time), scale.difference(*band_kelvin))
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
