//! A checked programme is not loaded yet, and loading it checks it again.

use saggar_core::Controller;
use saggar_core::controller::LoadError;
use saggar_core::programme::{ImageError, Violation, ViolationKind};

use crate::support::{Bench, celsius, furnace, image, ramp, soak, step};

#[test]
fn checking_a_programme_loads_nothing() {
    let steps = [step(ramp(900, 30)), step(soak(600))];
    let mut bench = Bench::new(800.0, &steps);
    let other = image(&[step(ramp(1100, 100)), step(soak(60))]);
    let admitted = bench.core.check_programme(other.bytes(), &other.digest()).unwrap();
    assert_eq!(admitted.image(), &other);
    assert_eq!(bench.core.programme(), Some(&image(&steps)));
    assert_eq!(bench.core.load_checked(admitted), Ok(()));
    assert_eq!(bench.core.programme(), Some(&other));
}

#[test]
fn a_checked_programme_is_not_loaded_into_a_firing() {
    let steps = [step(ramp(900, 30)), step(soak(600))];
    let mut bench = Bench::new(800.0, &steps);
    let other = image(&[step(ramp(1100, 100)), step(soak(60))]);
    let admitted = bench.core.check_programme(other.bytes(), &other.digest()).unwrap();
    bench.start();
    assert_eq!(bench.core.load_checked(admitted), Err(LoadError::FiringInProgress));
    assert_eq!(bench.core.programme(), Some(&image(&steps)));
    let refused = bench.core.check_programme(other.bytes(), &other.digest());
    assert_eq!(refused, Err(LoadError::FiringInProgress));
}

/// The same reasons as for loading.
#[test]
fn check_and_load_report_the_same_errors() {
    let mut core = Controller::new(furnace());
    let good = image(&[step(ramp(900, 30))]);
    let hot = image(&[step(ramp(1181, 30))]);
    for (image, digest) in [(&hot, hot.digest()), (&good, hot.digest())] {
        let why = core.check_programme(image.bytes(), &digest).unwrap_err();
        assert_eq!(core.load(image.bytes(), &digest), Err(why));
    }
    let why = core.check_programme(good.bytes(), &hot.digest());
    assert_eq!(why, Err(LoadError::Image(ImageError::DigestMismatch)));
}

/// A check for one furnace is worth nothing on another.
#[test]
fn a_programme_checked_for_another_furnace_is_checked_again() {
    let programme = image(&[step(ramp(1000, 30))]);
    let admitted =
        Controller::new(furnace()).check_programme(programme.bytes(), &programme.digest());
    let mut cooler = furnace();
    cooler.limits.programme_max = celsius(950.0);
    let mut core = Controller::new(cooler);
    let fault = ViolationKind::TooHot { to_mc: 1_000_000, max_mc: 950_000 };
    let first = Violation { step: Some(0), kind: fault };
    assert_eq!(
        core.load_checked(admitted.unwrap()),
        Err(LoadError::Violations { first, count: 1 })
    );
    assert_eq!(core.programme(), None);
}
