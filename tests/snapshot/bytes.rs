//! Malformed snapshots and snapshots of another programme are refused, without a panic.

use proptest::prelude::*;
use saggar_core::controller::{LoadError, RestoreError, SNAPSHOT_VERSION};
use saggar_core::programme::ImageError;
use saggar_core::units::Instant;
use saggar_core::{Controller, Inputs};

use super::{bytes, restored};
use crate::support::{Bench, furnace, image, ramp, soak, step};

/// A bench in the soak after a ramp.
fn soaking() -> Bench {
    let mut bench = Bench::firing(800.0, &[step(ramp(805, 60)), step(soak(600))]);
    bench.run(300);
    bench
}

#[test]
fn another_programme_is_refused() {
    let steps = [step(ramp(801, 60)), step(ramp(802, 60)), step(soak(600))];
    let mut bench = Bench::firing(800.0, &steps);
    while bench.core.status().step != Some(2) {
        bench.run(1);
    }
    let (same, other) = (image(&steps), image(&[step(ramp(801, 60))]));
    let snapshot = bytes(&bench.core);
    let refused = |image, snapshot: &[u8]| restored(&furnace(), image, snapshot).err();
    assert_eq!(refused(Some(&same), &snapshot), None);
    assert_eq!(refused(Some(&other), &snapshot), Some(RestoreError::ProgrammeMismatch));
    assert_eq!(refused(None, &snapshot), Some(RestoreError::ProgrammeMismatch));
    let none = bytes(&Controller::new(furnace()));
    assert_eq!(refused(None, &none), None);
    assert_eq!(refused(Some(&same), &none), Some(RestoreError::ProgrammeMismatch));
    let programme = Some((same.bytes(), &[0; 32]));
    let why = Controller::from_snapshot(furnace(), programme, &snapshot).err();
    let other_digest = LoadError::Image(ImageError::DigestMismatch);
    assert_eq!(why, Some(RestoreError::Load(other_digest)));
}

#[test]
fn malformed_snapshots_are_refused() {
    let bench = soaking();
    let snapshot = bytes(&bench.core);
    let image = bench.core.programme();
    let refused = |bytes: &[u8]| restored(&furnace(), image, bytes).err();
    assert_eq!(refused(&[]), Some(RestoreError::UnsupportedVersion(None)));
    let mut other = snapshot.clone();
    other[0] = SNAPSHOT_VERSION + 1;
    let newer = Some(SNAPSHOT_VERSION + 1);
    assert_eq!(refused(&other), Some(RestoreError::UnsupportedVersion(newer)));
    for length in 1..snapshot.len() {
        assert_eq!(refused(&snapshot[..length]), Some(RestoreError::Malformed), "{length}");
    }
    let longer = [&snapshot[..], &[0]].concat();
    assert_eq!(refused(&longer), Some(RestoreError::Malformed));
}

/// The current step is read from the programme, which must have it.
#[test]
fn a_missing_step_is_refused() {
    let bench = soaking();
    let snapshot = bytes(&bench.core);
    let image = bench.core.programme();
    let mut refused = 0;
    for index in 1..snapshot.len() {
        let mut other = snapshot.clone();
        other[index] = 2;
        let why = restored(&furnace(), image, &other).err();
        refused += u32::from(why == Some(RestoreError::NoSuchStep));
    }
    assert_eq!(refused, 1, "one byte is the index of the step");
}

#[test]
fn a_snapshot_that_does_not_fit_is_not_written() {
    let bench = soaking();
    let length = bytes(&bench.core).len();
    let mut room = vec![0; length];
    assert_eq!(bench.core.save_snapshot(&mut room[..length - 1]), None);
    assert_eq!(bench.core.save_snapshot(&mut room), Some(length));
}

/// Runs a restored controller for a while.
fn run_some_ticks(core: &mut Controller, inputs: &Inputs) {
    for tick in 0..300 {
        core.step(Instant::from_millis(tick * 100), inputs);
        core.status();
        bytes(core);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_048, ..ProptestConfig::default() })]

    #[test]
    fn a_corrupted_snapshot_never_panics(
        spoilt in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let mut bench = Bench::firing(800.0, &[step(ramp(805, 60)), step(soak(600))]);
        let mut snapshot = bytes(&bench.core);
        for (index, byte) in spoilt {
            // The version is another test's.
            let at = 1 + index.index(snapshot.len() - 1);
            snapshot[at] = byte;
        }
        let image = bench.core.programme().cloned();
        if let Ok(mut core) = restored(&furnace(), image.as_ref(), &snapshot) {
            bench.run(1);
            run_some_ticks(&mut core, &bench.last_inputs().1);
        }
    }

    #[test]
    fn arbitrary_bytes_never_panic(rest in prop::collection::vec(any::<u8>(), 0..260)) {
        let snapshot = [&[1u8, 0][..], &rest].concat();
        if let Ok(mut core) = restored(&furnace(), None, &snapshot) {
            run_some_ticks(&mut core, &Inputs::default());
        }
    }
}
