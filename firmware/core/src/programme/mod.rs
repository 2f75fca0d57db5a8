//! Programmes: a compiled schedule, as bytes with a digest.
//!
//! A [`Programme`] is built on a desk and may be wrong. Its [`Image`] is the same as bytes: what
//! is digested, uploaded, stored and run. [`verify`] says everything that is wrong with an
//! image on a furnace; the desk and the device call the same function, each with the limits it
//! knows.

mod guard;
mod image;
mod step;
mod timeline;
mod verify;

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

pub use guard::{GuardPosition, ImageGuard};
pub use image::{DIGEST_BYTES, ImageError, ProgrammeImage, Steps};
pub use step::{Action, Step, VacuumStage};
pub use timeline::{START_MC, SetpointOrigin, Timeline};
pub use verify::{VIOLATIONS_MAX, Violation, ViolationKind, Violations, verify, verify_with};

/// Most steps of a programme.
pub const STEPS_MAX: usize = 64;

/// Longest name of a programme, in bytes of UTF-8.
pub const NAME_BYTES_MAX: usize = 32;

/// Most bytes of an encoded programme.
pub const IMAGE_BYTES_MAX: usize = 1024;

/// Version of the programme bytes.
pub const FORMAT_VERSION: u8 = 1;

/// A programme in memory, as the desk builds it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Programme {
    /// Version of the bytes: [`FORMAT`].
    pub format: u8,
    /// What the operator sees.
    pub name: String<NAME_BYTES_MAX>,
    /// The steps, first first.
    pub steps: Vec<Step, STEPS_MAX>,
}

impl Programme {
    /// An empty programme with this name, or `None` if the name is longer than
    /// [`NAME_BYTES_MAX`].
    pub fn new(name: &str) -> Option<Self> {
        let name = String::try_from(name).ok()?;
        Some(Self { format: FORMAT_VERSION, name, steps: Vec::new() })
    }
}
