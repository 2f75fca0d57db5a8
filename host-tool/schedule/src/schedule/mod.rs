//! Schedules, and how they become programmes.
//!
//! A [`Schedule`] is plain data. [`Draft::read`] reads as much of one as it can from a TOML file and
//! keeps the locations; [`compile()`] turns the stages into the core's steps, with a [`StageMap`]
//! from each step back to its stage; [`verify()`] has the core verify the result for a furnace.
//! Errors are reported at their location in the file, or by the stage's number if there is no file.

mod action;
mod arrival;
mod compile;
mod draft;
mod purpose;
mod reach;
mod stages;
mod summary;
mod verify;
mod work;

use std::path::PathBuf;

use saggar_core::programme::{AfterCut, FALL_MAX_K};
use serde::Serialize;

use crate::document::to_toml;
use crate::keys;
use crate::keys::schedule::Work;

pub use action::vacuum_phrase;
pub use arrival::late_ramps;
pub use compile::{Compilation, StageMap, StepOrigin, compile};
pub use draft::Draft;
pub use reach::check_reach;
pub use summary::ProgrammeSummary;
pub use verify::verify;
pub use verify::violation_text as fault_words;

/// A schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// Name of the programme that it becomes.
    pub name: String,
    /// The path of the furnace profile, as in the file.
    pub furnace: Option<PathBuf>,
    /// Fall of the reading over a power cut beyond which the device asks twice (K).
    pub power_cut_fall_k: u16,
    /// The work, as in the file.
    pub work: Work,
    /// The stages in order.
    pub stages: Vec<Stage>,
}

/// One stage of a schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage<K = StageKind> {
    /// What it does.
    pub kind: K,
    /// Its name, if it has one.
    pub name: Option<String>,
    /// The question of a hold. It is not part of the programme.
    pub question: Option<String>,
    /// Whether the firing may go on after a power cut in it.
    pub after_cut: AfterCut,
}

/// What a stage does. It also describes a step of a programme, whose ramps are given by their rate and
/// whose vacuum belongs to other steps.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum StageKind {
    /// The setpoint moves.
    Ramp {
        /// Setpoint at its end (°C).
        to_celsius: f64,
        /// How fast.
        #[serde(flatten)]
        pace: RampPace,
    },
    /// The setpoint stays constant; time counts while the reading is inside a band.
    Soak {
        /// Time inside the band (min).
        minutes: f64,
        /// Half width of the band (K).
        band_kelvin: f64,
        /// Time outside the band after which the firing is abandoned (min).
        patience_minutes: f64,
    },
    /// The following stages are fired under vacuum.
    Vacuum {
        /// Pressure, and from which temperature.
        #[serde(flatten)]
        draw: Evacuation,
        /// Name of the last stage under vacuum.
        until_end_of: String,
    },
    /// Heat off until the chamber has cooled.
    Cool {
        /// Reading at its end (°C).
        below_celsius: f64,
    },
    /// The lift or door moves, heat off.
    Opening {
        /// True to open, false to shut.
        open: bool,
        /// Time to stay there (min).
        minutes: f64,
    },
    /// The setpoint stays until the operator confirms.
    Hold {
        /// Longest wait (min).
        minutes: f64,
        /// Without an answer: true to continue, false to end the firing.
        go_on: bool,
    },
}

/// How fast a ramp is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RampPace {
    /// At this rate (K/min).
    KelvinPerMinute(f64),
    /// In this time (min).
    Minutes(f64),
}

/// A vacuum.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Evacuation {
    /// Reading at which the pump starts (°C).
    pub from_celsius: f64,
    /// Absolute pressure to reach (hPa).
    pub to_hectopascal: f64,
    /// Time to reach it in (min).
    pub within_minutes: f64,
}

impl Schedule {
    /// The schedule as the text of a file.
    pub fn to_toml(&self) -> String {
        let furnace = self.furnace.as_ref().map(|path| path.to_string_lossy().into_owned());
        to_toml(&keys::Schedule {
            name: Some(self.name.clone()),
            furnace,
            power_cut_fall_kelvin: (self.power_cut_fall_k != FALL_MAX_K)
                .then(|| self.power_cut_fall_k.into()),
            work: Some(self.work.clone()),
            stage: Some(self.stages.iter().map(keys::schedule::Stage::from).collect()),
        })
    }
}
