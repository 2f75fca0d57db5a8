//! What the core takes to run: only between firings, only whole, only on a fit furnace.

use serde::{Deserialize, Serialize};

use super::{Controller, LoadedProgramme};
use crate::furnace::FurnaceError;
use crate::programme::{
    DIGEST_BYTES, ImageError, ImageGuard, ProgrammeImage, Violation, verify_with,
};
use crate::units::Celsius;

/// Why a programme was not loaded. A link carries the number of a variant: new ones are added at
/// the end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LoadError {
    /// A firing is running; the programme in it cannot be touched.
    FiringInProgress,
    /// The bytes are no programme, or not the one that the digest names.
    Image(ImageError),
    /// The furnace's own data are unfit to be trusted with heat.
    Furnace(FurnaceError),
    /// This furnace must not run it; [`verify`](crate::programme::verify) tells everything that forbids it.
    Violations {
        /// The first finding.
        first: Violation,
        /// How many there are.
        count: usize,
    },
}

/// A programme that [`Controller::admit`] has looked at. Nothing else makes one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckedProgramme(ProgrammeImage);

impl CheckedProgramme {
    /// The programme, to be stored before it is taken.
    pub const fn image(&self) -> &ProgrammeImage {
        &self.0
    }
}

impl Controller {
    /// Takes a programme, if its bytes have this digest and this furnace may run it:
    /// [`Self::admit`] and [`Self::take`].
    ///
    /// # Errors
    /// [`LoadError`]; what was loaded before stays.
    #[inline]
    pub fn load(&mut self, bytes: &[u8], digest: &[u8; DIGEST_BYTES]) -> Result<(), LoadError> {
        let admitted = self.check_programme(bytes, digest)?;
        self.install(admitted.0);
        Ok(())
    }

    /// Looks whether [`Self::load`] would take a programme, and changes nothing: a device knows so
    /// before it stores the bytes.
    ///
    /// # Errors
    /// [`LoadError`].
    #[inline]
    pub fn check_programme(
        &self,
        bytes: &[u8],
        digest: &[u8; DIGEST_BYTES],
    ) -> Result<CheckedProgramme, LoadError> {
        self.is_free()?;
        let image =
            ProgrammeImage::from_bytes_with_digest(bytes, digest).map_err(LoadError::Image)?;
        self.may_run(&image)?;
        Ok(CheckedProgramme(image))
    }

    /// Takes a programme that was admitted. It is looked at again: a firing may have begun since,
    /// and on a desk it may have been another furnace that admitted it.
    ///
    /// # Errors
    /// [`LoadError`]; what was loaded before stays.
    #[inline]
    pub fn load_checked(&mut self, admitted: CheckedProgramme) -> Result<(), LoadError> {
        self.is_free()?;
        self.may_run(&admitted.0)?;
        self.install(admitted.0);
        Ok(())
    }

    /// No firing runs, and the furnace's own data are fit.
    #[inline]
    fn is_free(&self) -> Result<(), LoadError> {
        if self.is_firing() {
            return Err(LoadError::FiringInProgress);
        }
        self.furnace.check().map_err(LoadError::Furnace)
    }

    #[inline]
    fn may_run(&self, image: &ProgrammeImage) -> Result<(), LoadError> {
        // A list of them would take more of the stack than everything else here but the image.
        let (mut first, mut count) = (None, 0usize);
        verify_with(image, &self.furnace, |finding| {
            first.get_or_insert(finding);
            count = count.saturating_add(1);
        });
        match first {
            Some(first) => Err(LoadError::Violations { first, count }),
            None => Ok(()),
        }
    }

    #[inline]
    fn install(&mut self, image: ProgrammeImage) {
        let highest_mc = image.setpoint_max_mc();
        let highest_c = highest_mc.map_or(f32::MIN, |mc| Celsius::from_milli(mc).get());
        let guard = ImageGuard::new(&image);
        self.programme = Some(LoadedProgramme { image, guard, highest_c });
        self.sequencer.reset();
    }
}
