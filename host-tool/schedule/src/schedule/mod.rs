//! Schedules: what a person or a program writes, and how it becomes a programme.
//!
//! A [`Schedule`] is plain data. [`Draft::read`] takes one out of a TOML file as far as it can be
//! read, and keeps the places beside it; [`lower`] turns the stages into the core's steps and keeps
//! a [`StageMap`] from each step back to its stage; [`judge`] has the core verify the result on a
//! furnace. What is wrong is said at its place in the file, or of the stage by its number where
//! there is no file.

mod action;
mod compile;
mod draft;
mod stages;
mod summary;
mod verify;
mod work;

use std::path::PathBuf;

use serde::Serialize;

use crate::document::to_toml;
use crate::keys;
use crate::keys::schedule::Work;

pub use action::vacuum_phrase;
pub use compile::{Compilation, StageMap, StepOrigin, compile};
pub use draft::Draft;
pub use summary::ProgrammeSummary;
pub use verify::verify;
pub use verify::violation_text as fault_words;

/// A schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// Name of the programme that it becomes.
    pub name: String,
    /// The furnace profile that it names, as written.
    pub furnace: Option<PathBuf>,
    /// The work, as written.
    pub work: Work,
    /// The stages in order.
    pub stages: Vec<Stage>,
}

/// One stage of a schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage<K = StageKind> {
    /// What happens.
    pub kind: K,
    /// Its name, if it has one.
    pub name: Option<String>,
    /// What the operator is asked during a hold; stays on the desk.
    pub question: Option<String>,
}

/// What happens in a stage. A step of a programme is one, too, with the rate as its pace; a vacuum
/// is drawn during steps.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum StageKind {
    /// The setpoint moves.
    Ramp {
        /// To here (°C).
        to_celsius: f64,
        /// How fast.
        #[serde(flatten)]
        pace: RampPace,
    },
    /// The setpoint stays, and time counts inside a band.
    Soak {
        /// Time to gather (min).
        minutes: f64,
        /// Half width of the band (K).
        band_kelvin: f64,
        /// Time out of the band after which the firing is given up (min).
        patience_minutes: f64,
    },
    /// The following stages are fired under vacuum.
    Vacuum {
        /// What is drawn.
        #[serde(flatten)]
        draw: Evacuation,
        /// Name of the last stage under vacuum.
        until_end_of: String,
    },
    /// Heat off until the chamber has cooled.
    Cool {
        /// To here (°C).
        below_celsius: f64,
    },
    /// The lift or door moves, heat off.
    Opening {
        /// To open, or to shut.
        open: bool,
        /// Time to stay there (min).
        minutes: f64,
    },
    /// The setpoint stays until the operator confirms.
    Hold {
        /// Longest wait (min).
        minutes: f64,
        /// Silence means: go on, or end the firing.
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
    /// The pump runs from here (°C).
    pub from_celsius: f64,
    /// Absolute pressure to reach (hPa).
    pub to_hectopascal: f64,
    /// Time to reach it in (min).
    pub within_minutes: f64,
}

impl Schedule {
    /// The text of a file that says it.
    pub fn to_toml(&self) -> String {
        let furnace = self.furnace.as_ref().map(|path| path.to_string_lossy().into_owned());
        to_toml(&keys::Schedule {
            name: Some(self.name.clone()),
            furnace,
            work: Some(self.work.clone()),
            stage: Some(self.stages.iter().map(keys::schedule::Stage::from).collect()),
        })
    }
}
