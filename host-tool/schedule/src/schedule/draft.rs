//! A schedule as far as its file can be read, and where it stands there.

use std::path::PathBuf;
use std::sync::Arc;

use super::stages::stage_path;
use super::{Schedule, Stage, StageKind, stages, work};
use crate::document::{KeyDiagnostics, KeyLocations};
use crate::keys;
use crate::keys::schedule::Work;
use saggar_files::{Diagnostics, SourceText};

/// A schedule as far as it could be read: the rest of it can be judged even so.
#[derive(Clone, Debug)]
pub struct Draft {
    /// Name of the programme that it becomes; empty if something is wrong with it.
    pub name: String,
    /// The furnace profile that it names.
    pub furnace: Option<PathBuf>,
    /// The work.
    pub work: Option<Work>,
    /// The stages; `None` of one that nothing can be said of.
    pub stages: Vec<Stage<Option<StageKind>>>,
    /// Where all of it stands; nowhere if it was never written.
    pub places: KeyLocations,
}

impl Draft {
    /// Reads a schedule, noting all that is wrong; `None` if there is nothing to judge.
    pub fn read(source: &Arc<SourceText>, diagnostics: &Diagnostics) -> Option<Self> {
        let document = keys::FileKind::Schedule.open(source, diagnostics)?;
        let (keys, places) = document.read::<keys::Schedule>();
        let notes = KeyDiagnostics { diagnostics: diagnostics, locations: &places };
        if let Some(keys) = &keys.work {
            work::check(keys, notes);
        }
        Some(Self {
            name: keys.name.unwrap_or_default(),
            furnace: keys.furnace.map(PathBuf::from),
            work: keys.work,
            stages: stages::read(&keys.stage.unwrap_or_default(), notes),
            places,
        })
    }

    /// The schedule, if all of it could be read.
    pub fn complete(&self) -> Option<Schedule> {
        let stage = |stage: &Stage<Option<StageKind>>| {
            let Stage { kind, name, question } = stage.clone();
            Some(Stage { kind: kind?, name, question })
        };
        Some(Schedule {
            name: self.name.clone(),
            furnace: self.furnace.clone(),
            work: self.work.clone()?,
            stages: self.stages.iter().map(stage).collect::<Option<_>>()?,
        })
    }

    /// Notes something wrong with a stage, counted from 0: with the first of these keys that it
    /// gives, or with the stage as such.
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
        let spots = keys.iter().map(|key| format!("{kind}.{key}"));
        if let Some(spot) = spots.into_iter().find(|spot| self.places.has(spot)) {
            diagnostics.note_at(self.places.value(&spot), message, help);
        } else if self.places.has(&kind) {
            diagnostics.note_at(self.places.key(&kind), message, help);
        } else {
            let message = format!("{}: {}", stage.phrase(index + 1), message.into());
            diagnostics.note_at(None, message, help);
        }
    }

    /// The file gives this key of a stage.
    pub(super) fn has_key(&self, index: usize, key: &str) -> bool {
        self.places.has(&format!("{}.{key}", stage_path(index)))
    }
}

/// A schedule that was made, not read.
impl From<&Schedule> for Draft {
    fn from(schedule: &Schedule) -> Self {
        let stage = |stage: &Stage| {
            let Stage { kind, name, question } = stage.clone();
            Stage { kind: Some(kind), name, question }
        };
        Self {
            name: schedule.name.clone(),
            furnace: schedule.furnace.clone(),
            work: Some(schedule.work.clone()),
            stages: schedule.stages.iter().map(stage).collect(),
            places: KeyLocations::default(),
        }
    }
}
