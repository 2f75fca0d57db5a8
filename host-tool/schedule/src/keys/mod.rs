//! The keys of schedules and profiles: name, unit, range, default and meaning of each.

pub mod profile;
pub mod schedule;

pub use profile::Profile;
pub use schedule::Schedule;

use std::sync::Arc;

use saggar_files::{Diagnostic, Diagnostics, SourceText};
use toml::de::DeTable;

use crate::document::{
    Document, KeyPath, KeySpec, PlainValue, Section as _, ValueKind, json_schema, set,
};

/// Names of the sections at the top of a file that may occur many times.
pub fn list_sections() -> Vec<&'static str> {
    let keys = Schedule::KEYS.iter().chain(Profile::KEYS);
    keys.filter(|key| matches!(key.kind, ValueKind::List { .. })).map(|key| key.name).collect()
}

/// The section that only a schedule has, and the one that only a profile has.
const STAGE: &str = "stage";
const CHAMBER: &str = "chamber";

/// A kind of file that a person writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// A schedule.
    Schedule,
    /// A furnace profile.
    Profile,
}

impl FileKind {
    /// Both kinds.
    pub const ALL: [Self; 2] = [Self::Schedule, Self::Profile];

    /// Its name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Schedule => "schedule",
            Self::Profile => "profile",
        }
    }

    /// The kind of a text, by the majority of its keys.
    pub fn of(text: &str) -> Self {
        let (root, _) = DeTable::parse_recoverable(text);
        let count = |keys: &[KeySpec]| {
            keys.iter().filter(|key| root.get_ref().contains_key(key.name)).count()
        };
        if count(Profile::KEYS) > count(Schedule::KEYS) {
            Self::Profile
        } else {
            Self::Schedule
        }
    }

    /// Parses a text that should be of this kind. If it is of another kind, that is noted.
    pub(crate) fn open<'s>(
        self,
        source: &'s Arc<SourceText>,
        diagnostics: &'s Diagnostics,
    ) -> Option<Document<'s>> {
        let ([its, not_its], other, cure) = match self {
            Self::Schedule => (
                [STAGE, CHAMBER],
                "this is a furnace profile, not a schedule",
                "give it with --furnace, or name it in the schedule: furnace = \"…\"",
            ),
            Self::Profile => (
                [CHAMBER, STAGE],
                "this is a schedule, not a furnace profile",
                "give a furnace profile here, such as the one that the schedule names after furnace =",
            ),
        };
        let document = Document::parse(source, diagnostics, &list_sections())?;
        if document.is_empty() {
            let help = "`saggar new` lists examples to start from";
            diagnostics.note(&(0..0), "the file is empty", help);
            return None;
        }
        if let (Some(key), None) = (document.key(not_its), document.key(its)) {
            diagnostics.note(&key, other, cure);
            return None;
        }
        Some(document)
    }

    /// Its keys.
    pub const fn keys(self) -> &'static [KeySpec] {
        match self {
            Self::Schedule => Schedule::KEYS,
            Self::Profile => Profile::KEYS,
        }
    }

    /// Its schema for editors.
    pub fn json_schema(self) -> serde_json::Value {
        match self {
            Self::Schedule => json_schema("Schedule", Schedule::KEYS),
            Self::Profile => json_schema("Furnace profile", Profile::KEYS),
        }
    }

    /// Sets some keys in a text and leaves the rest as it is, byte for byte.
    ///
    /// # Errors
    /// Errors that the change would cause.
    pub fn set(
        self,
        source: &Arc<SourceText>,
        changes: &[(KeyPath, PlainValue)],
    ) -> Result<Arc<SourceText>, Vec<Diagnostic>> {
        match self {
            Self::Schedule => set::<Schedule>(source, changes, &list_sections()),
            Self::Profile => set::<Profile>(source, changes, &list_sections()),
        }
    }
}
