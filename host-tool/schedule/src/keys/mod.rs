//! What may stand in the files that a person writes, each key in one place: name, unit, range,
//! default and meaning.

pub mod profile;
pub mod schedule;

pub use profile::Profile;
pub use schedule::Schedule;

use std::sync::Arc;

use saggar_files::{Finding, Source};
use toml::de::DeTable;

use crate::document::{Key, KeyPath, Kind, Section as _, Written, json_schema, set};

/// Names of the sections that there may be many of at the top of a file.
pub fn lists() -> Vec<&'static str> {
    let keys = Schedule::KEYS.iter().chain(Profile::KEYS);
    keys.filter(|key| matches!(key.kind, Kind::List { .. })).map(|key| key.name).collect()
}

/// What a person writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum File {
    /// A schedule.
    Schedule,
    /// A furnace profile.
    Profile,
}

impl File {
    /// What a text is, by the sections that it has.
    pub fn of(text: &str) -> Self {
        let (root, _) = DeTable::parse_recoverable(text);
        let has = |section: &str| root.get_ref().contains_key(section);
        if has("chamber") && !has("stage") { Self::Profile } else { Self::Schedule }
    }

    /// Its keys.
    pub const fn keys(self) -> &'static [Key] {
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

    /// Its text with some of its keys set and the rest as it was, byte for byte.
    ///
    /// # Errors
    /// What would be wrong with it then and is not now.
    pub fn set(
        self,
        source: &Arc<Source>,
        changes: &[(KeyPath, Written)],
    ) -> Result<Arc<Source>, Vec<Finding>> {
        match self {
            Self::Schedule => set::<Schedule>(source, changes, &lists()),
            Self::Profile => set::<Profile>(source, changes, &lists()),
        }
    }
}
