//! What a person can do about an interrupted firing, and what ends it.

use saggar_core::Cause;
use saggar_core::controller::{Bookmark, StartError};
use saggar_core::events::EventKind;
use saggar_core::io::ClosureContacts;
use saggar_core::sequencer::SequencerState;

use super::{CutBench, ending, every_kind};
use crate::support::{Bench, furnace, image};

#[test]
fn stop_discards_and_the_next_start_begins_at_the_first_step() {
    let mut firing = CutBench::started(60.0, &every_kind());
    firing.run_into(1, 100);
    firing.cut(0.0);
    firing.bench.events();
    firing.bench.tick(|it| it.inputs.buttons.stop = true);
    assert_eq!(firing.interrupted(), None);
    assert!(firing.happened(EventKind::FiringDiscarded));
    firing.bench.run(20);
    firing.bench.start();
    assert_eq!(firing.step(), Some(0));
    assert!(firing.happened(EventKind::FiringStarted));
}

/// A broken wire of the stop button must not cost the work.
#[test]
fn a_stop_button_that_is_stuck_down_neither_discards_nor_starts() {
    let mut firing = CutBench::started(60.0, &every_kind());
    firing.run_into(1, 100);
    let fresh = Bench::at_power_up(firing.bench.celsius, &every_kind());
    firing.bench = fresh;
    firing.bench.core.offer_bookmark(firing.last.expect("a bookmark"));
    for tick in 0..100 {
        firing.bench.tick(|it| {
            it.inputs.buttons.stop = true;
            it.inputs.buttons.start = tick % 10 == 5;
        });
        assert!(firing.interrupted().is_some() && firing.step().is_none(), "tick {tick}");
    }
    firing.bench.run(1);
    firing.bench.start();
    assert_eq!(firing.step(), Some(1));
}

#[test]
fn where_the_programme_ends_the_firing_stop_and_confirm_clear_it() {
    for confirm in [true, false] {
        let mut firing = CutBench::started(60.0, &every_kind().map(ending));
        firing.run_into(1, 100);
        firing.cut(0.0);
        assert!(firing.interrupted().is_some_and(|cut| cut.has(Bookmark::OVER)));
        firing.press_start();
        let status = firing.bench.core.status();
        assert_eq!((status.start_error, status.step), (Some(StartError::FiringOver), None));
        firing.bench.events();
        firing.bench.tick(|it| {
            (it.inputs.buttons.confirm, it.inputs.buttons.stop) = (confirm, !confirm);
        });
        assert!(firing.happened(EventKind::FiringDiscarded));
        let status = firing.bench.core.status();
        assert_eq!((status.interrupted, status.start_error), (None, None));
    }
}

/// A flag that only the core sets does not come from a device's log.
#[test]
fn the_programme_alone_says_whether_the_firing_is_over() {
    let mut bench = Bench::at_power_up(60.0, &every_kind());
    assert!(bench.core.offer_bookmark(Bookmark { flags: u8::MAX, ..Bookmark::default() }));
    assert!(!bench.core.status().interrupted.expect("offered").has(Bookmark::OVER));
}

/// A shut contact that was proven before the cut needs no new proof; one that was not does.
#[test]
fn a_proof_of_the_contact_outlives_the_cut() {
    for flags in [Bookmark::CONTACT_SEEN_OPEN, 0] {
        let mut bench = Bench::at_power_up(60.0, &every_kind());
        let bookmark = Bookmark { step: 0, reading_c: 60, gathered_s: 0, flags };
        assert!(bench.core.offer_bookmark(bookmark));
        let stuck = ClosureContacts { shut: true, open: false };
        for pressed in [false, true] {
            bench.tick(|it| {
                it.inputs.closure = stuck;
                it.inputs.buttons.start = pressed;
            });
        }
        let error = (flags == 0).then_some(StartError::ContactUnproven);
        assert_eq!(bench.core.status().start_error, error);
        assert_eq!(bench.core.is_firing(), error.is_none());
        // The next bookmark says the same, for the next cut.
        let next = bench.core.bookmark().map(|next| next.has(Bookmark::CONTACT_SEEN_OPEN));
        assert_eq!(next, error.is_none().then_some(true));
    }
}

/// The reading must have fallen by more than 200 K, and only heat asks.
#[test]
fn a_deep_fall_asks_twice() {
    for (fall_c, asks) in [(199, false), (201, true)] {
        let mut firing = CutBench::started(60.0, &every_kind());
        firing.run_into(4, 50);
        let last = firing.last.expect("a bookmark");
        firing.cut(firing.bench.celsius - f64::from(i32::from(last.reading_c) - fall_c));
        firing.press_start();
        let status = firing.bench.core.status();
        assert_eq!(status.step, (!asks).then_some(4), "{fall_c} K");
        assert_eq!(status.start_error, asks.then_some(StartError::AskTwice), "{fall_c} K");
        firing.press_start();
        let status = firing.bench.core.status();
        assert_eq!((status.step, status.start_error), (Some(4), None), "{fall_c} K");
    }
}

#[test]
fn cooling_goes_on_however_far_the_reading_fell() {
    let mut firing = CutBench::started(60.0, &every_kind());
    firing.run_into(5, 20);
    firing.cut(330.0);
    firing.press_start();
    assert_eq!(firing.bench.core.status().start_error, None);
    assert!(firing.happened(EventKind::FiringResumed(5)));
    assert!(!firing.bench.out.contactor);
}

/// A trip ends it: at once if it comes after the cut, and it is not even offered if it came before.
#[test]
fn a_trip_ends_it() {
    let mut firing = CutBench::started(60.0, &every_kind());
    firing.run_into(1, 100);
    firing.cut(0.0);
    for _ in 0..100 {
        firing.bench.tick(|it| it.inputs.heater_current_ma = Some(9_000));
    }
    assert!(firing.bench.tripped().is_some());
    assert_eq!(firing.interrupted(), None);

    let mut bench = Bench::at_power_up(60.0, &every_kind());
    bench.core.restore_trip(Cause::ClosureOpen);
    assert!(!bench.core.offer_bookmark(Bookmark::default()));
    assert_eq!(bench.core.status().interrupted, None);
}

#[test]
fn only_a_step_of_the_programme_is_accepted() {
    let mut bench = Bench::at_power_up(60.0, &every_kind());
    assert!(!bench.core.offer_bookmark(Bookmark { step: 9, ..Bookmark::default() }));
    assert!(!bench.core.offer_bookmark(Bookmark { step: 255, ..Bookmark::default() }));
    assert!(bench.core.offer_bookmark(Bookmark { step: 8, ..Bookmark::default() }));
    let mut empty = saggar_core::Controller::new(furnace());
    assert!(!empty.offer_bookmark(Bookmark::default()), "without a programme");
    // Another programme is another firing.
    let other = image(&every_kind());
    bench.core.load(other.bytes(), &other.digest()).expect("loaded");
    assert_eq!(bench.core.status().interrupted, None);
    // Nor is one accepted during a firing.
    bench.run(20);
    bench.start();
    assert!(matches!(bench.core.state(), SequencerState::Running(_)));
    assert!(!bench.core.offer_bookmark(Bookmark::default()));
}
