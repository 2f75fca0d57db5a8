//! Intermittent faults: occasional bad samples neither hide another fault nor end a firing.

use saggar_core::Cause;
use saggar_core::estimate::Tracker;
use saggar_core::sensors::{Reading, SensorFault, ThermocoupleType};

use super::long_firing;
use crate::support::{Bench, Tick, celsius, furnace, sample};

/// One bad sample in sixteen ticks trips, one in seventeen does not.
#[test]
fn bad_samples_trip_above_one_in_seventeen() {
    let trip = Some(Cause::SensorOpen);
    for (every, expected) in
        [(2, trip), (5, trip), (10, trip), (16, trip), (17, None), (20, None)]
    {
        for control in [true, false] {
            let mut bench = Bench::firing(800.0, &long_firing(900));
            for index in 0..3000 {
                let bad = index % every == 0;
                let out = bench.tick(|tick| match (bad, control) {
                    (true, true) => tick.inputs.control = None,
                    (true, false) => tick.inputs.limit = None,
                    (false, _) => {}
                });
                assert!(!bad || out.heater_cycles == 0, "heat on a missing sample");
            }
            assert_eq!(bench.tripped(), expected, "one in {every}, control {control}");
        }
    }
}

type Spoil = fn(&mut Tick);

/// After good samples the third bad one in a row trips, the second does not.
#[test]
fn three_in_a_row_trip() {
    let cases: [(Cause, Spoil); 3] = [
        (Cause::SensorOpen, |tick| tick.inputs.control = None),
        (Cause::SensorOpen, |tick| tick.inputs.limit = None),
        (Cause::ClosureOpen, |tick| tick.inputs.closure.shut = false),
    ];
    for (cause, spoil) in cases {
        for (bad, expected) in [(2, None), (3, Some(cause))] {
            let mut bench = Bench::firing(800.0, &long_firing(900));
            bench.run(100);
            for _ in 0..bad {
                assert_eq!(bench.tripped(), None);
                assert_eq!(bench.tick(spoil).heater_cycles, 0);
            }
            assert_eq!(bench.tripped(), expected);
        }
    }
}

/// A contact that is open in two ticks of three, or in one of two.
#[test]
fn flickering_closure_trips() {
    for shut_of_three in [1, 2] {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        for index in 0..20 {
            let shut = index % 3 < shut_of_three;
            let out = bench.tick(|tick| tick.inputs.closure.shut = shut);
            assert!(shut || out.heater_cycles == 0, "heat with the chamber open");
        }
        assert_eq!(bench.tripped(), Some(Cause::ClosureOpen), "shut {shut_of_three} of 3");
    }
}

/// A sample that is missing every few seconds clears no disagreement.
#[test]
fn disagreement_is_found_between_missing_samples() {
    for every in [31, 90] {
        let mut bench = Bench::firing(800.0, &long_firing(810));
        bench.run(600);
        let mut drift = 0.0f64;
        for index in 0..1200 {
            drift = (drift + 0.05).min(55.0);
            bench.tick(|tick| {
                let reads = sample(ThermocoupleType::S, tick.celsius - drift);
                tick.inputs.limit = (index % every != 0).then_some(reads);
            });
        }
        assert_eq!(bench.tripped(), Some(Cause::ChannelsDisagree), "every {every} ticks");
    }
}

/// A sample that is missing in the very tick of a heater check hides nothing either.
#[test]
fn broken_element_is_found_between_missing_samples() {
    for phase in 0..10 {
        let mut furnace = furnace();
        furnace.heater.full_current_ma = None;
        let mut bench = Bench::of(furnace, 700.0, &long_firing(1000));
        bench.run(20);
        bench.start();
        bench.run(320);
        for index in 0..1300 {
            bench.tick(|tick| {
                tick.effect = 0.0;
                if index % 200 == phase {
                    tick.inputs.control = None;
                }
            });
        }
        assert_eq!(bench.tripped(), Some(Cause::HeaterWithoutEffect), "phase {phase}");
    }
}

/// A channel that comes back far from its last value restarts its tracker: filtering the step would give
/// an impossible rate. Close to its last value it continues.
#[test]
fn a_channel_that_comes_back_far_away_restarts_its_tracker() {
    let limits = furnace().limits;
    let read = |at| Ok(Reading { celsius: celsius(at), is_upper_bound: false, age_ms: 0 });
    for (back_c, anew) in [(760.0, true), (840.0, true), (790.0, false), (810.0, false)] {
        let mut tracker = Tracker::default();
        for _ in 0..100 {
            tracker.update(&limits, read(800.0)).unwrap();
        }
        for _ in 0..30 {
            tracker.update(&limits, Err(SensorFault::Missing)).unwrap_err();
        }
        let belief = tracker.update(&limits, read(back_c)).unwrap();
        let at_once = (belief.celsius.get() - back_c).abs() < 0.01;
        assert_eq!(at_once, anew, "{back_c} °C back as {belief:?}");
        assert_eq!(belief.rate_k_per_s.abs() < 0.01, anew, "{belief:?}");
    }
}

/// It stays invalid until the furnace can have reached the new reading.
#[test]
fn a_channel_that_comes_back_too_early_stays_invalid() {
    let limits = furnace().limits;
    let read = |at| Ok(Reading { celsius: celsius(at), is_upper_bound: false, age_ms: 0 });
    let mut tracker = Tracker::default();
    tracker.update(&limits, read(800.0)).unwrap();
    // 20 K at once and 1 K a tick.
    for _ in 0..79 {
        assert_eq!(tracker.update(&limits, read(700.0)), Err(SensorFault::Implausible));
    }
    tracker.update(&limits, read(700.0)).unwrap();
}
