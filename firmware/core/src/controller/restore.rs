//! The way back from a snapshot, on a desk only: see [`super::snapshot`].

use super::{Controller, LoadError, PreviousTick, snapshot::FORMAT};
use crate::actuators::BurstFire;
use crate::control::{HeatControl, VacuumControl};
use crate::estimate::Tracker;
use crate::furnace::Furnace;
use crate::interlock::Interlock;
use crate::programme::{DIGEST_BYTES, GuardPosition, ImageGuard};
use crate::sequencer::Sequencer;

/// As [`Controller::save`] writes it, behind the version.
type Memory = (
    Option<GuardPosition>,
    Tracker,
    Tracker,
    Interlock,
    Sequencer,
    HeatControl,
    VacuumControl,
    BurstFire,
    PreviousTick,
);

/// Why a controller was not restored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RestoreError {
    /// The furnace does not take the programme.
    Load(LoadError),
    /// The bytes are of another version of the snapshot, or there are none.
    UnsupportedVersion(Option<u8>),
    /// The bytes cannot be read, end too early or go on behind their end.
    Malformed,
    /// The snapshot was taken with another programme, or with one while none is given, or the
    /// other way round.
    ProgrammeMismatch,
    /// The firing is at a step that the programme does not have.
    NoSuchStep,
}

impl Controller {
    /// The controller that [`Controller::save`] saw: given the same inputs from there on it returns
    /// the same outputs, bit for bit. `furnace` and `programme` (bytes and digest) must be those
    /// that it had; a log names both by digest.
    ///
    /// # Errors
    /// [`RestoreError`]. A furnace of the wrong numbers is not noticed here.
    pub fn from_snapshot(
        furnace: Furnace,
        programme: Option<(&[u8], &[u8; DIGEST_BYTES])>,
        snapshot: &[u8],
    ) -> Result<Self, RestoreError> {
        let mut core = Self::new(furnace);
        if let Some((bytes, digest)) = programme {
            core.load(bytes, digest).map_err(RestoreError::Load)?;
        }
        let (format, bytes) = match snapshot.split_first() {
            Some((format, bytes)) => (Some(*format), bytes),
            None => (None, snapshot),
        };
        if format != Some(FORMAT) {
            return Err(RestoreError::UnsupportedVersion(format));
        }
        let (memory, rest) =
            postcard::take_from_bytes::<Memory>(bytes).map_err(|_| RestoreError::Malformed)?;
        if !rest.is_empty() {
            return Err(RestoreError::Malformed);
        }
        core.remember(memory)?;
        Ok(core)
    }

    fn remember(&mut self, memory: Memory) -> Result<(), RestoreError> {
        let mark;
        (
            mark,
            self.control.1,
            self.limit.1,
            self.interlock,
            self.sequencer,
            self.heat,
            self.vacuum,
            self.burst,
            self.last,
        ) = memory;
        match (&mut self.programme, mark) {
            (None, None) => {}
            (Some(loaded), Some(mark)) => {
                let guard = ImageGuard::resume(&loaded.image, mark);
                loaded.guard = guard.ok_or(RestoreError::ProgrammeMismatch)?;
            }
            (None, Some(_)) | (Some(_), None) => return Err(RestoreError::ProgrammeMismatch),
        }
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        if self.sequencer.recall(image) { Ok(()) } else { Err(RestoreError::NoSuchStep) }
    }
}
