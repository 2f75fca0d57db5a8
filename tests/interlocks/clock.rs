//! The clock against the crossings of the mains.

use saggar_core::Cause;

use super::{AtRest, long_firing, restarts, trips};
use crate::support::{Bench, furnace};

/// Ticks in a window.
const WINDOW: u32 = 600;

#[test]
fn clock_wrong() {
    let cause = Cause::ClockWrong;
    // 1.4 times too fast, too slow, a counter that has stopped, and one that does not answer.
    for crossings in [Some(7), Some(14), Some(0), None] {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        // Within two windows, wherever in one it begins.
        bench.run(300);
        trips(&mut bench, cause, 2 * WINDOW, AtRest::Unseen, |tick| {
            tick.inputs.mains_crossings = crossings;
        });
        restarts(&mut bench);
    }
}

/// Runs five minutes in which one tick in `every` has this many crossings and the others ten.
fn trip_with(every: u32, crossings: u8) -> Option<Cause> {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for tick in 0..5 * WINDOW {
        bench.tick(|t| {
            if tick % every == 0 {
                t.inputs.mains_crossings = Some(crossings);
            }
        });
    }
    bench.tripped()
}

/// The mains itself deviates by less than 1 %.
#[test]
fn two_percent_are_the_limit() {
    for (crossings, deviates) in [(9, false), (11, false), (7, true), (13, true)] {
        // One in ten: 1 % off with 9 or 11, 3 % with 7 or 13.
        let expected = deviates.then_some(Cause::ClockWrong);
        assert_eq!(trip_with(10, crossings), expected, "{crossings}");
    }
}

#[test]
fn a_furnace_on_60_hz_expects_twelve_crossings() {
    let mut furnace = furnace();
    furnace.heater.mains_hz = 60;
    for (crossings, expected) in [(12, None), (10, Some(Cause::ClockWrong))] {
        let mut bench = Bench::of(furnace.clone(), 800.0, &long_firing(900));
        bench.run(20);
        bench.start();
        for _ in 0..2 * WINDOW {
            bench.tick(|tick| tick.inputs.mains_crossings = Some(crossings));
        }
        assert_eq!(bench.tripped(), expected, "{crossings}");
    }
}

/// At rest, and without a counter, nothing is judged.
#[test]
fn an_idle_furnace_and_one_without_a_counter_are_not_judged() {
    let mut bench = Bench::new(200.0, &long_firing(900));
    for _ in 0..2 * WINDOW {
        bench.tick(|tick| tick.inputs.mains_crossings = None);
    }
    assert_eq!(bench.tripped(), None);

    let mut furnace = furnace();
    furnace.heater.counts_crossings = false;
    let mut bench = Bench::of(furnace, 800.0, &long_firing(900));
    bench.run(20);
    bench.start();
    for _ in 0..2 * WINDOW {
        bench.tick(|tick| tick.inputs.mains_crossings = None);
    }
    assert!(bench.core.is_firing() && bench.tripped().is_none());
}
