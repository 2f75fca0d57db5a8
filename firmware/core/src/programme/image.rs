//! A programme as bytes: postcard, read step by step so that a device need not hold the steps
//! twice.

use heapless::Vec;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::{FORMAT_VERSION, IMAGE_BYTES_MAX, Programme, STEPS_MAX, Step};

/// Bytes of a programme's digest.
pub const DIGEST_BYTES: usize = 32;

/// The part of the bytes before the steps. Encodes as the head of a [`Programme`] does.
#[derive(Serialize, Deserialize)]
struct ImageHeader<'a> {
    format: u8,
    name: &'a str,
    count: u32,
}

/// The bytes of a programme whose shape has been checked: the head is readable, and exactly as
/// many steps follow as it says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgrammeImage {
    bytes: Vec<u8, IMAGE_BYTES_MAX>,
    first_step: usize,
    count: u8,
}

/// Why bytes are not a programme. A link carries the number of a variant: new ones are added at
/// the end, and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ImageError {
    /// More than [`IMAGE_BYTES_MAX`] bytes.
    TooLong,
    /// The head cannot be read.
    BadHeader,
    /// The bytes are of another version than [`FORMAT`].
    UnsupportedVersion(u8),
    /// More than [`STEPS_MAX`] steps.
    TooManySteps(u32),
    /// This step, counted from 0, cannot be read.
    BadStep(u8),
    /// Bytes follow the last step.
    TrailingBytes,
    /// The bytes do not have the digest that they should have.
    DigestMismatch,
}

impl ProgrammeImage {
    /// The bytes of a programme.
    ///
    /// # Errors
    /// [`ImageError::TooLong`] if it takes more than [`IMAGE_BYTES_MAX`] bytes.
    pub fn encode(programme: &Programme) -> Result<Self, ImageError> {
        let mut room = [0u8; IMAGE_BYTES_MAX];
        let written =
            postcard::to_slice(programme, &mut room).map_err(|_| ImageError::TooLong)?;
        Self::from_bytes(written)
    }

    /// Checks the shape of bytes from a file or a link. Says nothing of what the steps mean:
    /// that is [`super::verify`].
    ///
    /// # Errors
    /// The first thing wrong with the shape.
    #[inline]
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, ImageError> {
        if bytes.len() > IMAGE_BYTES_MAX {
            return Err(ImageError::TooLong);
        }
        let (head, rest) = postcard::take_from_bytes::<ImageHeader<'_>>(bytes)
            .map_err(|_| ImageError::BadHeader)?;
        if head.format != FORMAT_VERSION {
            return Err(ImageError::UnsupportedVersion(head.format));
        }
        let count = u8::try_from(head.count)
            .ok()
            .filter(|count| usize::from(*count) <= STEPS_MAX)
            .ok_or(ImageError::TooManySteps(head.count))?;
        if head.name.len() > super::NAME_BYTES_MAX {
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
        // Copied last, so that a device need not move them again.
        let bytes = Vec::from_slice(bytes).map_err(|_| ImageError::TooLong)?;
        Ok(Self { bytes, first_step, count })
    }

    /// As [`Self::from_bytes`], for bytes that came with a digest.
    ///
    /// # Errors
    /// [`ImageError::OtherDigest`] before anything else is looked at.
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

    /// The bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// SHA-256 of the bytes (FIPS 180-4): the name by which desk and device know a programme.
    pub fn digest(&self) -> [u8; DIGEST_BYTES] {
        digest_of(&self.bytes)
    }

    /// The name that the operator sees.
    pub fn name(&self) -> &str {
        postcard::take_from_bytes::<ImageHeader<'_>>(&self.bytes)
            .map_or("", |(head, _)| head.name)
    }

    /// How many steps.
    pub const fn len(&self) -> u8 {
        self.count
    }

    /// No steps at all.
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The steps from the first on.
    pub fn steps(&self) -> Steps<'_> {
        Steps { left: self.bytes.get(self.first_step..).unwrap_or(&[]) }
    }

    /// The highest setpoint of its steps (thousandths of a degree Celsius), if one has any.
    pub fn setpoint_max_mc(&self) -> Option<i32> {
        self.steps().filter_map(|step| step.action.setpoint_mc()).max()
    }

    /// Reads one step at a byte offset; 0 is the first. Returns it with the offset of the next,
    /// or `None` behind the last.
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

/// The steps of an [`Image`], decoded one by one.
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
