//! A programme as bytes: the same steps come back, and damaged bytes are refused.

use proptest::prelude::*;
use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::programme::{IMAGE_BYTES_MAX, ImageError, Programme, ProgrammeImage};

use super::any_steps;
use crate::support::furnace;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1024))]

    #[test]
    fn programme_comes_back_from_its_bytes(steps in any_steps(), name in "\\PC{0,8}") {
        let mut programme = Programme::new(&name).unwrap();
        programme.steps = steps.iter().copied().collect();
        match ProgrammeImage::encode(&programme) {
            Ok(image) => {
                prop_assert_eq!(image.steps().collect::<Vec<_>>(), steps);
                prop_assert_eq!(image.name(), name);
                prop_assert_eq!(usize::from(image.len()), programme.steps.len());
                let again = ProgrammeImage::from_bytes_with_digest(image.bytes(), &image.digest()).unwrap();
                prop_assert_eq!(again, image);
            }
            Err(why) => {
                // 33 bytes are the longest step.
                prop_assert_eq!(why, ImageError::TooLong);
                prop_assert!(steps.len() * 33 + name.len() + 8 > IMAGE_BYTES_MAX);
            }
        }
    }

    /// Every truncation and one flip of every bit is refused by the digest, and by the shape
    /// alone it is refused or read, but never worse.
    #[test]
    fn damaged_bytes_are_refused(steps in any_steps().prop_map(|s| s.into_iter().take(12).collect::<Vec<_>>())) {
        let image = crate::support::image(&steps);
        let digest = image.digest();
        let good = image.bytes();
        for length in 0..good.len() {
            let refused = ProgrammeImage::from_bytes_with_digest(&good[..length], &digest);
            prop_assert_eq!(refused.unwrap_err(), ImageError::DigestMismatch);
            prop_assert!(ProgrammeImage::from_bytes(&good[..length]).is_err(), "cut at {}", length);
        }
        for bit in 0..good.len() * 8 {
            let mut bytes = good.to_vec();
            bytes[bit / 8] ^= 1 << (bit % 8);
            prop_assert_eq!(
                ProgrammeImage::from_bytes_with_digest(&bytes, &digest).unwrap_err(),
                ImageError::DigestMismatch
            );
            if let Ok(other) = ProgrammeImage::from_bytes(&bytes) {
                prop_assert!(other != image);
                prop_assert_eq!(other.steps().count(), usize::from(other.len()));
            }
        }
    }

    /// Bytes from anywhere: refused or read, and what is read can be read again.
    #[test]
    fn arbitrary_bytes_are_refused_or_read(bytes in prop::collection::vec(any::<u8>(), 0..1100)) {
        if let Ok(image) = ProgrammeImage::from_bytes(&bytes) {
            prop_assert_eq!(image.steps().count(), usize::from(image.len()));
            prop_assert!(bytes.len() <= IMAGE_BYTES_MAX);
        }
    }
}

/// A refused upload leaves what was loaded before.
#[test]
fn refused_upload_leaves_the_old_programme() {
    use crate::support::{image, ramp, soak, step};
    let good = image(&[step(ramp(900, 30)), step(soak(60))]);
    let hot = image(&[step(ramp(1190, 30)), step(soak(60))]);
    let mut core = Controller::new(furnace());
    core.load(good.bytes(), &good.digest()).unwrap();
    assert_eq!(
        core.load(hot.bytes(), &good.digest()),
        Err(LoadError::Image(ImageError::DigestMismatch))
    );
    assert!(matches!(
        core.load(hot.bytes(), &hot.digest()),
        Err(LoadError::Violations { count: 1, .. })
    ));
    assert_eq!(core.programme(), Some(&good));
}
