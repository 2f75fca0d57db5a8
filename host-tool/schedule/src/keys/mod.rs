//! The keys of schedules, profiles and lists of faults: name, unit, range, default and meaning of each.

pub mod faults;
pub mod profile;
pub mod schedule;

pub use faults::FaultFile;
pub use profile::Profile;
pub use schedule::Schedule;

use std::sync::Arc;

use saggar_files::{Diagnostic, Diagnostics, SourceText, nearest};
use toml::de::DeTable;

use crate::document::{
    Document, KeyPath, KeySpec, PlainValue, Section as _, ValueKind, json_schema, set,
};

/// Names of the sections at the top of a file that may occur many times.
pub fn list_sections() -> Vec<&'static str> {
    let keys = Schedule::KEYS.iter().chain(Profile::KEYS).chain(FaultFile::KEYS);
    keys.filter(|key| matches!(key.kind, ValueKind::List { .. })).map(|key| key.name).collect()
}

/// A kind of file that a person writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// A schedule.
    Schedule,
    /// A furnace profile.
    Profile,
    /// A list of faults.
    Faults,
}

impl FileKind {
    /// All kinds.
    pub const ALL: [Self; 3] = [Self::Schedule, Self::Profile, Self::Faults];

    /// Its name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Schedule => "schedule",
            Self::Profile => "profile",
            Self::Faults => "faults",
        }
    }

    /// Its name in a sentence.
    pub const fn phrase(self) -> &'static str {
        match self {
            Self::Schedule => "a schedule",
            Self::Profile => "a furnace profile",
            Self::Faults => "a list of faults",
        }
    }

    /// The section that only this kind has.
    const fn mark(self) -> &'static str {
        match self {
            Self::Schedule => "stage",
            Self::Profile => "chamber",
            Self::Faults => "fault",
        }
    }

    /// What to do if a file of this kind was expected, and this one was found.
    const fn cure(self, found: Self) -> &'static str {
        match (self, found) {
            (Self::Schedule, Self::Profile) => {
                "give it with --furnace, or name it in the schedule: furnace = \"…\""
            }
            (Self::Profile, Self::Schedule) => {
                "give a furnace profile here, such as the one that the schedule names after furnace ="
            }
            (Self::Schedule | Self::Profile, Self::Faults) => "give it with --faults",
            (Self::Faults, Self::Schedule | Self::Profile) => {
                "give a file with [[fault]] sections here; `saggar new` lists examples"
            }
            (Self::Schedule, Self::Schedule)
            | (Self::Profile, Self::Profile)
            | (Self::Faults, Self::Faults) => "",
        }
    }

    /// The kind of a text, by the majority of its keys.
    pub fn of(text: &str) -> Self {
        let (root, _) = DeTable::parse_recoverable(text);
        let root = root.get_ref();
        let count =
            |kind: Self| kind.keys().iter().filter(|key| root.contains_key(key.name)).count();
        let [schedule, profile] = [Self::Schedule, Self::Profile].map(count);
        // A list of faults has one key only, which may be misspelt.
        let mut words = root.keys().map(|key| key.get_ref().as_ref());
        let is_fault = |word: &str| nearest(word, [Self::Faults.mark()]).is_some();
        if schedule.max(profile) <= 1 && words.any(is_fault) {
            Self::Faults
        } else if profile > schedule {
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
        let document = Document::parse(source, diagnostics, &list_sections())?;
        if document.is_empty() {
            let help = "`saggar new` lists examples to start from";
            diagnostics.note(&(0..0), "the file is empty", help);
            return None;
        }
        if document.key(self.mark()).is_some() {
            return Some(document);
        }
        let found = |kind: &Self| Some((*kind, document.key(kind.mark())?));
        if let Some((found, key)) = Self::ALL.iter().find_map(found) {
            let message = format!("this is {}, not {}", found.phrase(), self.phrase());
            diagnostics.note(&key, message, self.cure(found));
            return None;
        }
        Some(document)
    }

    /// Its keys.
    pub const fn keys(self) -> &'static [KeySpec] {
        match self {
            Self::Schedule => Schedule::KEYS,
            Self::Profile => Profile::KEYS,
            Self::Faults => FaultFile::KEYS,
        }
    }

    /// Its schema for editors.
    pub fn json_schema(self) -> serde_json::Value {
        match self {
            Self::Schedule => json_schema("Schedule", Schedule::KEYS),
            Self::Profile => json_schema("Furnace profile", Profile::KEYS),
            Self::Faults => json_schema("Faults", FaultFile::KEYS),
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
            Self::Faults => set::<FaultFile>(source, changes, &list_sections()),
        }
    }
}
