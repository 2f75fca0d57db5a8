//! Schedules: what a person writes, and how it becomes a programme.
//!
//! [`Schedule::read`] takes the stages and the work out of a TOML file; [`lower`] turns the
//! stages into the core's steps and keeps a [`StageMap`] from each step back to its place in the
//! file; [`judge`] has the core verify the result on a furnace, with the core's findings shown
//! at those places.

mod judge;
mod lower;
mod phrase;
mod reader;
mod stages;
mod summary;
mod work;

use std::path::PathBuf;

use saggar_plant::spec::WorkSpec;

use saggar_files::Span;

pub use judge::judge;
pub use judge::words as fault_words;
pub use lower::{Lowered, StageMap, StagePlace, lower};
pub use summary::Summary;

/// A schedule as its file says it.
#[derive(Clone, Debug)]
pub struct Schedule {
    /// Name of the programme that it becomes.
    pub name: String,
    /// The furnace profile that the file names, and where; the path as written, or `None` if
    /// something is wrong with it.
    pub furnace: Option<(Option<PathBuf>, Span)>,
    /// The work; `None` if something is wrong with it.
    pub work: Option<WorkSpec>,
    /// Where the file says how much of it there is: the count, or the area of one piece.
    pub size_span: Span,
    /// The stages in order.
    pub stages: Vec<Stage>,
}

/// One stage of a schedule.
#[derive(Clone, Debug)]
pub struct Stage {
    /// What happens; `None` if something is wrong with it, so that nothing can be said of it.
    pub kind: Option<StageKind>,
    /// Its name, if it has one.
    pub name: Option<String>,
    /// What the operator is asked during a hold; stays on the desk.
    pub question: Option<String>,
    /// Where it begins.
    pub span: Span,
    /// Where its values stand.
    pub spots: Vec<(String, Span)>,
}

/// What happens in a stage.
#[derive(Clone, Debug, PartialEq)]
pub enum StageKind {
    /// The setpoint moves.
    Ramp {
        /// To here (°C).
        to_celsius: f64,
        /// How fast.
        pace: Pace,
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
        /// The pump runs from here (°C).
        from_celsius: f64,
        /// Absolute pressure to reach (hPa).
        to_hectopascal: f64,
        /// Time to reach it in (min).
        within_minutes: f64,
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
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// At this rate (K/min).
    KelvinPerMinute(f64),
    /// In this time (min).
    Minutes(f64),
}

impl StageKind {
    /// The key that says this kind in a file.
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
}

impl Stage {
    /// The file gives this key.
    pub fn gives(&self, key: &str) -> bool {
        self.spots.iter().any(|(spot, _)| spot == key)
    }

    /// Where the value of a key stands; the stage itself if it is left out.
    pub fn spot(&self, key: &str) -> Span {
        self.spots
            .iter()
            .find(|(spot, _)| spot == key)
            .map_or_else(|| self.span.clone(), |(_, span)| span.clone())
    }
}
