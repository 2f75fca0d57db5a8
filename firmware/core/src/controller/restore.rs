//! Restoring a controller from a snapshot, in host tools only: see [`super::snapshot`].

use super::recovery::Recovery;
use super::{Controller, LoadError, PreviousTick, snapshot::SNAPSHOT_VERSION};
use crate::actuators::BurstFire;
use crate::control::{HeatControl, VacuumControl};
use crate::estimate::Tracker;
use crate::furnace::{Furnace, FurnaceGuard, FurnaceGuardPosition};
use crate::interlock::Interlock;
use crate::programme::{DIGEST_BYTES, GuardPosition, ImageGuard};
use crate::sequencer::Sequencer;

/// The content of a snapshot after its version byte, as [`Controller::save_snapshot`] writes it.
type SnapshotContent = (
    Option<GuardPosition>,
    Tracker,
    Tracker,
    Interlock,
    Sequencer,
    HeatControl,
    VacuumControl,
    BurstFire,
    PreviousTick,
    Recovery,
    FurnaceGuardPosition,
);

/// Why a controller was not restored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RestoreError {
    /// The programme cannot be loaded on this furnace.
    Load(LoadError),
    /// The snapshot has another version, or no bytes at all.
    UnsupportedVersion(Option<u8>),
    /// The bytes cannot be decoded, are too few or too many.
    Malformed,
    /// The snapshot was taken with another programme, or only one of the two sides has a programme.
    ProgrammeMismatch,
    /// The snapshot's current step does not exist in the programme.
    NoSuchStep,
}

impl Controller {
    /// Restores the controller of a snapshot. From the same inputs it then computes the same outputs
    /// as the original, bit for bit. `furnace` and `programme` (bytes and digest) must be those of the
    /// original; a log identifies both by digest.
    ///
    /// # Errors
    /// [`RestoreError`]. A furnace with other data is not detected.
    pub fn from_snapshot(
        furnace: Furnace,
        programme: Option<(&[u8], &[u8; DIGEST_BYTES])>,
        snapshot: &[u8],
    ) -> Result<Self, RestoreError> {
        let mut controller = Self::new(furnace);
        if let Some((bytes, digest)) = programme {
            controller.load(bytes, digest).map_err(RestoreError::Load)?;
        }
        let (version, bytes) = match snapshot.split_first() {
            Some((version, bytes)) => (Some(*version), bytes),
            None => (None, snapshot),
        };
        if version != Some(SNAPSHOT_VERSION) {
            return Err(RestoreError::UnsupportedVersion(version));
        }
        let (content, rest) = postcard::take_from_bytes::<SnapshotContent>(bytes)
            .map_err(|_| RestoreError::Malformed)?;
        if !rest.is_empty() {
            return Err(RestoreError::Malformed);
        }
        controller.apply(content)?;
        Ok(controller)
    }

    fn apply(&mut self, content: SnapshotContent) -> Result<(), RestoreError> {
        let (furnace_position, position);
        (
            position,
            self.control.1,
            self.limit.1,
            self.interlock,
            self.sequencer,
            self.heat,
            self.vacuum,
            self.burst,
            self.previous,
            self.recovery,
            furnace_position,
        ) = content;
        self.furnace_guard = FurnaceGuard::resume(&self.furnace, furnace_position);
        match (&mut self.programme, position) {
            (None, None) => {}
            (Some(loaded), Some(position)) => {
                let guard = ImageGuard::resume(&loaded.image, position);
                loaded.guard = guard.ok_or(RestoreError::ProgrammeMismatch)?;
            }
            (None, Some(_)) | (Some(_), None) => return Err(RestoreError::ProgrammeMismatch),
        }
        let image = self.programme.as_ref().map(|loaded| &loaded.image);
        if self.sequencer.reload_step(image) { Ok(()) } else { Err(RestoreError::NoSuchStep) }
    }
}
