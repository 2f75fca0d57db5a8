//! Stages and steps in words, for files, tables and sentences.

use saggar_core::programme::{Action, VacuumStage};

use super::{Evacuation, RampPace, Stage, StageKind};
use crate::keys::schedule::STAGE_NAME_BYTES_MAX;
use saggar_files::sanitized;
use saggar_verdict::format::{Scale, duration, one_decimal};

impl StageKind {
    /// The key of this kind in a file.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Ramp { .. } => "ramp",
            Self::Soak { .. } => "soak",
            Self::Vacuum { .. } => "vacuum",
            Self::Cool { .. } => "cool",
            Self::Opening { .. } => "opening",
            Self::Hold { .. } => "hold",
        }
    }

    /// What happens, in a phrase to print beside the name of its kind: "to 1120 °C at 50 K/min".
    pub fn phrase(&self, scale: Scale) -> String {
        self.phrases(scale).0
    }

    /// What happens, in a phrase that stands alone: "ramp to 1120 °C at 50 K/min".
    pub fn standalone_phrase(&self, scale: Scale) -> String {
        self.phrases(scale).1
    }

    /// The phrase to print beside the name of the kind, and the standalone one.
    fn phrases(&self, scale: Scale) -> (String, String) {
        let celsius = |celsius: f64| scale.temperature(celsius);
        let minutes = |minutes: f64| duration(minutes * 60.0);
        match self {
            Self::Ramp { to_celsius, pace } => {
                let pace = match *pace {
                    RampPace::KelvinPerMinute(pace) => format!("at {}", scale.rate(pace)),
                    RampPace::Minutes(time) => format!("in {}", minutes(time)),
                };
                let beside = format!("to {} {pace}", celsius(*to_celsius));
                let alone = format!("ramp {beside}");
                (beside, alone)
            }
            Self::Soak { minutes: time, band_kelvin, patience_minutes } => {
                let band = scale.difference(*band_kelvin);
                let beside = format!("{} within {band}", minutes(*time));
                let alone = format!("soak {beside}, patience {}", minutes(*patience_minutes));
                (beside, alone)
            }
            Self::Vacuum { draw, .. } => (draw.phrase(scale), draw.standalone_phrase(scale)),
            Self::Cool { below_celsius } => {
                let to = celsius(*below_celsius);
                (format!("heat off, to {to}"), format!("cool below {to}"))
            }
            Self::Opening { open, minutes: time } => {
                let (word, time) = (if *open { "open" } else { "shut" }, minutes(*time));
                (format!("{word} for {time}"), format!("{word} the chamber, {time}"))
            }
            Self::Hold { minutes: time, go_on } => {
                let time = minutes(*time);
                let (it, then) = if *go_on { ("goes on", "go on") } else { ("ends", "end") };
                (
                    format!("asks the operator; after {time} it {it}"),
                    format!("wait for the operator, {time} at most, then {then}"),
                )
            }
        }
    }
}

impl Evacuation {
    /// In a phrase beside another one: "vacuum of 50 hPa from 600 °C".
    pub fn phrase(&self, scale: Scale) -> String {
        let from = scale.temperature(self.from_celsius);
        format!("vacuum of {} hPa from {from}", one_decimal(self.to_hectopascal))
    }

    /// In a phrase that stands alone.
    pub fn standalone_phrase(&self, scale: Scale) -> String {
        vacuum_phrase(self.from_celsius, self.to_hectopascal, scale)
    }
}

/// A vacuum in a phrase that stands alone: "vacuum 50 hPa from 600 °C".
pub fn vacuum_phrase(from_celsius: f64, to_hectopascal: f64, scale: Scale) -> String {
    let from = scale.temperature(from_celsius);
    format!("vacuum {} hPa from {from}", one_decimal(to_hectopascal))
}

impl<K> Stage<K> {
    /// Its label in a sentence, with its number in the file: `stage 6 "infiltrate"`.
    pub fn phrase(&self, number: usize) -> String {
        match &self.name {
            Some(name) => {
                format!("stage {number} \"{}\"", sanitized(name, STAGE_NAME_BYTES_MAX))
            }
            None => format!("stage {number}"),
        }
    }
}

/// What a step of a programme does.
impl From<&Action> for StageKind {
    fn from(action: &Action) -> Self {
        match *action {
            Action::Ramp { to_mc, rate_mk_per_min } => Self::Ramp {
                to_celsius: from_milli(to_mc),
                pace: RampPace::KelvinPerMinute(f64::from(rate_mk_per_min) / 1e3),
            },
            Action::Soak { duration_ms: for_ms, band_mk, band_timeout_ms: patience_ms } => {
                Self::Soak {
                    minutes: minutes(for_ms),
                    band_kelvin: f64::from(band_mk) / 1e3,
                    patience_minutes: minutes(patience_ms),
                }
            }
            Action::Cool { below_mc } => Self::Cool { below_celsius: from_milli(below_mc) },
            Action::MoveClosure { open, dwell_ms: stay_ms } => {
                Self::Opening { open, minutes: minutes(stay_ms) }
            }
            Action::Hold { timeout_ms, continue_on_timeout: go_on } => {
                Self::Hold { minutes: minutes(timeout_ms), go_on }
            }
        }
    }
}

/// The vacuum of a step.
impl From<VacuumStage> for Evacuation {
    fn from(stage: VacuumStage) -> Self {
        Self {
            from_celsius: from_milli(stage.from_mc),
            to_hectopascal: f64::from(stage.to_pa) / 1e2,
            within_minutes: minutes(stage.within_ms),
        }
    }
}

/// A temperature (°C) from thousandths.
pub(super) fn from_milli(value: i32) -> f64 {
    f64::from(value) / 1e3
}

fn minutes(millis: u32) -> f64 {
    f64::from(millis) / 60e3
}
