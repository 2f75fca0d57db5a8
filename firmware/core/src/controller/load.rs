//! Loading a programme: only between firings, only after verification, and only if the furnace's own
//! data are valid.

use serde::{Deserialize, Serialize};

use super::recovery::Recovery;
use super::{Controller, LoadedProgramme};
use crate::furnace::FurnaceError;
use crate::programme::{
    DIGEST_BYTES, ImageError, ImageGuard, ProgrammeImage, Violation, verify_with,
};
use crate::units::Celsius;

/// Why a programme was not loaded. A link carries the variant's number, so add new variants at the
/// end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LoadError {
    /// A firing is running, and its programme cannot be replaced.
    FiringInProgress,
    /// The bytes are not a programme, or their digest is not the given one.
    Image(ImageError),
    /// The furnace's own data are invalid, so that no programme can be loaded.
    Furnace(FurnaceError),
    /// The programme breaks rules of this furnace. [`verify`](crate::programme::verify) lists all of
    /// them.
    Violations {
        /// The first violation.
        first: Violation,
        /// Number of violations.
        count: usize,
    },
}

/// A programme that [`Controller::check_programme`] has accepted. Only that function creates it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckedProgramme(ProgrammeImage);

impl CheckedProgramme {
    /// The programme, for example to store it before it is loaded.
    pub const fn image(&self) -> &ProgrammeImage {
        &self.0
    }
}

impl Controller {
    /// Checks and loads a programme in one call.
    ///
    /// # Errors
    /// [`LoadError`]; the programme that was loaded before stays.
    #[inline]
    pub fn load(&mut self, bytes: &[u8], digest: &[u8; DIGEST_BYTES]) -> Result<(), LoadError> {
        let checked = self.check_programme(bytes, digest)?;
        self.install(checked.0);
        Ok(())
    }

    /// Checks whether a programme can be loaded, without loading it, so that a device can store the
    /// bytes first.
    ///
    /// # Errors
    /// [`LoadError`].
    #[inline]
    pub fn check_programme(
        &self,
        bytes: &[u8],
        digest: &[u8; DIGEST_BYTES],
    ) -> Result<CheckedProgramme, LoadError> {
        self.check_ready()?;
        let image =
            ProgrammeImage::from_bytes_with_digest(bytes, digest).map_err(LoadError::Image)?;
        self.check_rules(&image)?;
        Ok(CheckedProgramme(image))
    }

    /// Loads a programme that was checked before. It is checked again, because a firing may have
    /// started since, and a host may have checked it for another furnace.
    ///
    /// # Errors
    /// [`LoadError`]; the programme that was loaded before stays.
    #[inline]
    pub fn load_checked(&mut self, checked: CheckedProgramme) -> Result<(), LoadError> {
        self.check_ready()?;
        self.check_rules(&checked.0)?;
        self.install(checked.0);
        Ok(())
    }

    /// Checks that no firing is running and that the furnace's own data are valid.
    #[inline]
    fn check_ready(&self) -> Result<(), LoadError> {
        if self.is_firing() {
            return Err(LoadError::FiringInProgress);
        }
        self.furnace.check().map_err(LoadError::Furnace)
    }

    #[inline]
    fn check_rules(&self, image: &ProgrammeImage) -> Result<(), LoadError> {
        // A list of all violations would be the second largest value on the stack, after the image.
        let (mut first, mut count) = (None, 0usize);
        verify_with(image, &self.furnace, |violation| {
            first.get_or_insert(violation);
            count = count.saturating_add(1);
        });
        match first {
            Some(first) => Err(LoadError::Violations { first, count }),
            None => Ok(()),
        }
    }

    #[inline]
    fn install(&mut self, image: ProgrammeImage) {
        let setpoint_max_mc = image.setpoint_max_mc();
        let setpoint_max_c =
            setpoint_max_mc.map_or(f32::MIN, |mc| Celsius::from_milli(mc).get());
        let guard = ImageGuard::new(&image);
        let setpoint_max_inverted = !setpoint_max_c.to_bits();
        let loaded = LoadedProgramme { image, guard, setpoint_max_c, setpoint_max_inverted };
        self.programme = Some(loaded);
        self.sequencer.reset();
        self.recovery = Recovery::default();
    }
}
