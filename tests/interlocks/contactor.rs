//! The contactor against its auxiliary contact.

use saggar_core::Cause;
use saggar_core::controller::StartError;

use super::{AtRest, cooling, long_firing, recovers, restarts, trips};
use crate::support::{Bench, Tick, furnace};

fn reads_closed(tick: &mut Tick) {
    tick.inputs.contactor_closed = true;
}

fn reads_open(tick: &mut Tick) {
    tick.inputs.contactor_closed = false;
}

#[test]
fn contactor_not_following() {
    let cause = Cause::ContactorNotFollowing;
    // It drops out while the step heats. At rest its contact fits the command again.
    let mut bench = Bench::firing(800.0, &long_firing(900));
    trips(&mut bench, cause, 4, AtRest::Unseen, reads_open);
    restarts(&mut bench);

    // It does not open in a step that does not heat.
    let mut bench = cooling();
    trips(&mut bench, cause, 4, AtRest::Seen, reads_closed);
    recovers(&mut bench, cause);
}

/// A contactor that is found welded after a firing lets no other one start.
#[test]
fn a_welded_contactor_is_found_after_the_firing() {
    let cause = Cause::ContactorNotFollowing;
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for _ in 0..100 {
        bench.tick(reads_closed);
    }
    assert_eq!(bench.tripped(), None, "it is commanded closed");
    bench.tick(|tick| {
        reads_closed(tick);
        tick.inputs.buttons.stop = true;
    });
    for ticks in 0..4 {
        assert_eq!(bench.tripped(), None, "after {ticks} ticks");
        bench.tick(reads_closed);
    }
    assert_eq!(bench.tripped(), Some(cause));
    bench.confirm(reads_closed);
    assert_eq!(bench.tripped(), Some(cause), "accepted while it is welded");
    bench.start();
    assert_eq!(bench.core.status().start_error, Some(StartError::Tripped(cause)));
    assert!(!bench.core.is_firing());
    recovers(&mut bench, cause);
}

/// The self-test closes the contactor before there is any heat.
#[test]
fn a_contactor_that_does_not_close_is_found_before_the_first_heat() {
    let mut bench = Bench::new(200.0, &long_firing(900));
    bench.start();
    for _ in 0..20 {
        bench.tick(reads_open);
        assert_eq!(bench.out.heater_cycles, 0, "heat before the contactor was proven");
    }
    assert_eq!(bench.tripped(), Some(Cause::ContactorNotFollowing));
}

/// 300 ms, and the tick in which it moves.
#[test]
fn a_bouncing_contact_rides_through() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for _ in 0..50 {
        for _ in 0..3 {
            bench.tick(reads_open);
        }
        bench.run(1);
    }
    assert_eq!(bench.tripped(), None);
}

#[test]
fn a_furnace_without_the_contact_ignores_it() {
    let mut furnace = furnace();
    furnace.heater.auxiliary_contact = false;
    for spoil in [reads_open, reads_closed] {
        let mut bench = Bench::of(furnace.clone(), 200.0, &long_firing(900));
        bench.run(20);
        bench.start();
        for _ in 0..600 {
            bench.tick(spoil);
        }
        assert_eq!(bench.tripped(), None);
        assert!(bench.celsius > 205.0, "it does not heat");
    }
}
