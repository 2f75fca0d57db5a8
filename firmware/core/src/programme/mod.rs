//! Programmes: compiled schedules.
//!
//! The host tool builds a [`Programme`] and encodes it as a [`ProgrammeImage`], which is digested,
//! uploaded, stored and run. [`verify()`] lists everything that forbids running an image on a furnace.
//! Host and device call the same function, each with the furnace data that it has.

mod guard;
mod image;
mod step;
mod timeline;
mod verify;

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

pub use guard::{GuardPosition, ImageGuard};
pub use image::{DIGEST_BYTES, ImageError, ProgrammeImage, Steps};
pub use step::{Action, AfterCut, Step, VacuumStage};
pub use timeline::{START_MC, SetpointOrigin, Timeline};
pub use verify::{VIOLATIONS_MAX, Violation, ViolationKind, Violations, verify, verify_with};

/// Maximum number of steps of a programme.
pub const STEPS_MAX: usize = 64;

/// Maximum length of a programme's name (bytes of UTF-8).
pub const NAME_BYTES_MAX: usize = 32;

/// Maximum length of an encoded programme (bytes).
pub const IMAGE_BYTES_MAX: usize = 1024;

/// Version of the programme encoding.
pub const FORMAT_VERSION: u8 = 2;

/// Fall of the reading over a power cut beyond which a device asks twice, unless the programme says
/// otherwise (K).
pub const FALL_MAX_K: u16 = 200;

/// A programme as the host tool builds it. It has not been verified.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Programme {
    /// Version of the encoding: [`FORMAT_VERSION`].
    pub format: u8,
    /// The name for the operator.
    pub name: String<NAME_BYTES_MAX>,
    /// Fall of the reading over a power cut beyond which the device asks twice before the firing goes
    /// on (K).
    pub fall_max_k: u16,
    /// The steps, in order.
    pub steps: Vec<Step, STEPS_MAX>,
}

impl Programme {
    /// An empty programme with this name, or `None` if the name is longer than
    /// [`NAME_BYTES_MAX`].
    pub fn new(name: &str) -> Option<Self> {
        let name = String::try_from(name).ok()?;
        Some(Self { format: FORMAT_VERSION, name, fall_max_k: FALL_MAX_K, steps: Vec::new() })
    }
}
