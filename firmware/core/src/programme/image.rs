//! The encoded programme (postcard). Steps are decoded one at a time, so that a device does not
//! hold them twice.

use heapless::Vec;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::{FORMAT_VERSION, IMAGE_BYTES_MAX, Programme, STEPS_MAX, Step};

/// Length of a programme's digest (bytes).
pub const DIGEST_BYTES: usize = 32;

/// The header in front of the steps, encoded like the same fields of a [`Programme`].
#[derive(Serialize, Deserialize)]
struct ImageHeader<'a> {
    format: u8,
    name: &'a str,
    fall_max_k: u16,
    count: u32,
}

/// An encoded programme that is well-formed: the header can be decoded, and exactly as many steps
/// follow as it says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgrammeImage {
    bytes: Vec<u8, IMAGE_BYTES_MAX>,
    first_step: usize,
    count: u8,
}

/// Why bytes are not a programme. A link carries the variant's number, so add new variants at the
/// end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ImageError {
    /// More than [`IMAGE_BYTES_MAX`] bytes.
    TooLong,
    /// The header cannot be decoded.
    BadHeader,
    /// The bytes are of another version than [`FORMAT_VERSION`].
    UnsupportedVersion(u8),
    /// More than [`STEPS_MAX`] steps; carries their number.
    TooManySteps(u32),
    /// This step, counted from 0, cannot be decoded.
    BadStep(u8),
    /// Bytes follow the last step.
    TrailingBytes,
    /// The digest of the bytes is not the expected one.
    DigestMismatch,
}

impl ProgrammeImage {
    /// Encodes a programme.
    ///
    /// # Errors
    /// [`ImageError::TooLong`] if it takes more than [`IMAGE_BYTES_MAX`] bytes.
    pub fn encode(programme: &Programme) -> Result<Self, ImageError> {
        let mut buffer = [0u8; IMAGE_BYTES_MAX];
        let written =
            postcard::to_slice(programme, &mut buffer).map_err(|_| ImageError::TooLong)?;
        Self::from_bytes(written)
    }

    /// Checks that bytes from a file or a link are well-formed. Whether a furnace may run the steps
    /// is for [`super::verify()`] to decide.
    ///
    /// # Errors
    /// The first error in the encoding.
    #[inline]
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ImageError> {
        if bytes.len() > IMAGE_BYTES_MAX {
            return Err(ImageError::TooLong);
        }
        // Before the rest of the header, which another version may lay out differently.
        let format = *bytes.first().ok_or(ImageError::BadHeader)?;
        if format != FORMAT_VERSION {
            return Err(ImageError::UnsupportedVersion(format));
        }
        let (header, rest) = postcard::take_from_bytes::<ImageHeader<'_>>(bytes)
            .map_err(|_| ImageError::BadHeader)?;
        let count = u8::try_from(header.count)
            .ok()
            .filter(|count| usize::from(*count) <= STEPS_MAX)
            .ok_or(ImageError::TooManySteps(header.count))?;
        if header.name.len() > super::NAME_BYTES_MAX {
            return Err(ImageError::BadHeader);
        }
        let mut left = rest;
        for index in 0..count {
            let (_, after) = postcard::take_from_bytes::<Step>(left)
                .map_err(|_| ImageError::BadStep(index))?;
            left = after;
        }
        if !left.is_empty() {
            return Err(ImageError::TrailingBytes);
        }
        let first_step = bytes.len().saturating_sub(rest.len());
        // Copied last, so that the large value is not moved again.
        let bytes = Vec::from_slice(bytes).map_err(|_| ImageError::TooLong)?;
        Ok(Self { bytes, first_step, count })
    }

    /// As [`Self::from_bytes`], but checks the digest first.
    ///
    /// # Errors
    /// [`ImageError::DigestMismatch`] if the digest differs, otherwise as [`Self::from_bytes`].
    #[inline]
    pub fn from_bytes_with_digest(
        bytes: &[u8],
        digest: &[u8; DIGEST_BYTES],
    ) -> Result<Self, ImageError> {
        if digest_of(bytes) != *digest {
            return Err(ImageError::DigestMismatch);
        }
        Self::from_bytes(bytes)
    }

    /// Flips a bit as a fault of the memory would, for tests of the guard only; wraps round at the end.
    #[cfg(feature = "restore")]
    pub(crate) fn flip_bit(&mut self, bit: u32) {
        let index = usize::try_from(bit / 8).unwrap_or(0).checked_rem(self.bytes.len());
        if let Some(byte) = index.and_then(|index| self.bytes.get_mut(index)) {
            *byte ^= 1 << (bit % 8);
        }
    }

    /// The encoded bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// SHA-256 of the bytes (FIPS 180-4), which identifies the programme for host and device.
    pub fn digest(&self) -> [u8; DIGEST_BYTES] {
        digest_of(&self.bytes)
    }

    /// The name for the operator.
    pub fn name(&self) -> &str {
        postcard::take_from_bytes::<ImageHeader<'_>>(&self.bytes)
            .map_or("", |(header, _)| header.name)
    }

    /// Fall of the reading over a power cut beyond which a device asks twice before the firing goes on
    /// (K).
    pub fn fall_max_k(&self) -> u16 {
        postcard::take_from_bytes::<ImageHeader<'_>>(&self.bytes)
            .map_or(0, |(header, _)| header.fall_max_k)
    }

    /// Number of steps.
    pub const fn len(&self) -> u8 {
        self.count
    }

    /// Where the steps begin and how many there are, which is kept next to the bytes.
    pub(super) fn layout(&self) -> [u8; 5] {
        let [a, b, c, d] = u32::try_from(self.first_step).unwrap_or(u32::MAX).to_le_bytes();
        [a, b, c, d, self.count]
    }

    /// True if there are no steps.
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// Iterates over the steps.
    pub fn steps(&self) -> Steps<'_> {
        Steps { left: self.bytes.get(self.first_step..).unwrap_or(&[]) }
    }

    /// Maximum setpoint of all steps (thousandths of °C); `None` without a ramp.
    pub fn setpoint_max_mc(&self) -> Option<i32> {
        self.steps().filter_map(|step| step.action.setpoint_mc()).max()
    }

    /// Decodes the step at a byte offset; 0 is the first. Returns it with the offset of the next one,
    /// or `None` at the end.
    pub(crate) fn step_at(&self, offset: u16) -> Option<(Step, u16)> {
        let begin = self.first_step.checked_add(usize::from(offset))?;
        let mut steps = Steps { left: self.bytes.get(begin..)? };
        let before = steps.left.len();
        let step = steps.next()?;
        let used = before.checked_sub(steps.left.len())?;
        Some((step, offset.checked_add(u16::try_from(used).ok()?)?))
    }
}

/// SHA-256 (FIPS 180-4).
#[inline]
fn digest_of(bytes: &[u8]) -> [u8; DIGEST_BYTES] {
    Sha256::digest(bytes).into()
}

/// An iterator that decodes the steps of a [`ProgrammeImage`].
#[derive(Clone, Debug)]
pub struct Steps<'a> {
    left: &'a [u8],
}

impl Iterator for Steps<'_> {
    type Item = Step;

    fn next(&mut self) -> Option<Step> {
        let (step, after) = postcard::take_from_bytes::<Step>(self.left).ok()?;
        self.left = after;
        Some(step)
    }
}
