//! As much of a schedule as can be read from its file, with locations.

use std::path::PathBuf;
use std::sync::Arc;

use saggar_core::programme::FALL_MAX_K;

use super::stages::stage_path;
use super::{Schedule, Stage, StageKind, purpose, stages, work};
use crate::document::{KeyDiagnostics, KeyLocations};
use crate::keys;
use crate::keys::schedule::Work;
use saggar_files::{Diagnostics, SourceText};

/// As much of a schedule as could be read, so that the rest can be checked, too.
#[derive(Clone, Debug)]
pub struct Draft {
    /// Name of the programme that it becomes; empty if it is missing or invalid.
    pub name: String,
    /// The furnace profile that it names.
    pub furnace: Option<PathBuf>,
    /// Fall of the reading over a power cut beyond which the device asks twice (K).
    pub power_cut_fall_k: u16,
    /// The work.
    pub work: Option<Work>,
    /// The stages; their kind is `None` if it could not be read.
    pub stages: Vec<Stage<Option<StageKind>>>,
    /// Locations of its keys; empty if a program made it.
    pub locations: KeyLocations,
}

impl Draft {
    /// Reads a schedule and notes all errors; `None` if there is nothing to check.
    pub fn read(source: &Arc<SourceText>, diagnostics: &Diagnostics) -> Option<Self> {
        let document = keys::FileKind::Schedule.open(source, diagnostics)?;
        let (keys, locations) = document.read::<keys::Schedule>();
        let notes = KeyDiagnostics { diagnostics, locations: &locations };
        if let Some(keys) = &keys.work {
            work::check(keys, notes);
            purpose::check(keys, notes);
        }
        Some(Self {
            name: keys.name.unwrap_or_default(),
            furnace: keys.furnace.map(PathBuf::from),
            power_cut_fall_k: fall_k(keys.power_cut_fall_kelvin),
            work: keys.work,
            stages: stages::read(&keys.stage.unwrap_or_default(), notes),
            locations,
        })
    }

    /// The schedule, if all of it could be read.
    pub fn complete(&self) -> Option<Schedule> {
        let stage = |stage: &Stage<Option<StageKind>>| {
            let Stage { kind, name, question, after_cut } = stage.clone();
            Some(Stage { kind: kind?, name, question, after_cut })
        };
        Some(Schedule {
            name: self.name.clone(),
            furnace: self.furnace.clone(),
            power_cut_fall_k: self.power_cut_fall_k,
            work: self.work.clone()?,
            stages: self.stages.iter().map(stage).collect::<Option<_>>()?,
        })
    }

    /// Notes an error of a stage, counted from 0: at the first of these keys that it has, or at the stage
    /// itself.
    pub(super) fn note(
        &self,
        diagnostics: &Diagnostics,
        index: usize,
        keys: &[&str],
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        let Some(stage) = self.stages.get(index) else { return };
        let word = stage.kind.as_ref().map_or("", StageKind::word);
        let kind = format!("{}.{word}", stage_path(index));
        let paths = keys.iter().map(|key| format!("{kind}.{key}"));
        if let Some(path) = paths.into_iter().find(|path| self.locations.has(path)) {
            diagnostics.note_at(self.locations.value(&path), message, help);
        } else if self.locations.has(&kind) {
            diagnostics.note_at(self.locations.key(&kind), message, help);
        } else {
            let message = format!("{}: {}", stage.phrase(index + 1), message.into());
            diagnostics.note_at(None, message, help);
        }
    }

    /// The file has this key in a stage.
    pub(super) fn has_key(&self, index: usize, key: &str) -> bool {
        self.locations.has(&format!("{}.{key}", stage_path(index)))
    }
}

/// The key's range is that of the number in a programme.
fn fall_k(kelvin: Option<u32>) -> u16 {
    kelvin.and_then(|kelvin| u16::try_from(kelvin).ok()).unwrap_or(FALL_MAX_K)
}

/// A draft of a schedule that a program made.
impl From<&Schedule> for Draft {
    fn from(schedule: &Schedule) -> Self {
        let stage = |stage: &Stage| {
            let Stage { kind, name, question, after_cut } = stage.clone();
            Stage { kind: Some(kind), name, question, after_cut }
        };
        Self {
            name: schedule.name.clone(),
            furnace: schedule.furnace.clone(),
            power_cut_fall_k: schedule.power_cut_fall_k,
            work: Some(schedule.work.clone()),
            stages: schedule.stages.iter().map(stage).collect(),
            locations: KeyLocations::default(),
        }
    }
}
