//! What may stand in the files that a person writes, each key in one place: name, unit, range,
//! default and meaning.

pub mod profile;
pub mod schedule;

pub use profile::Profile;
pub use schedule::Schedule;

use crate::document::{Kind, Section as _};

/// Names of the sections that there may be many of at the top of a file.
pub fn lists() -> Vec<&'static str> {
    let keys = Schedule::KEYS.iter().chain(Profile::KEYS);
    keys.filter(|key| matches!(key.kind, Kind::List { .. })).map(|key| key.name).collect()
}
