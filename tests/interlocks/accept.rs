//! When a trip is accepted, and conditions that must not trip at all.

use saggar_core::Cause;
use saggar_core::programme::Action;
use saggar_core::sensors::ThermocoupleType;
use saggar_core::sequencer::Ending;

use super::{long_firing, recovers};
use crate::support::{Bench, Tick, image, ramp, sample, soak, step};

/// A shorted sensor reads the temperature of its terminals. Once its channel is valid again, only the
/// other channel shows that the furnace is hot.
#[test]
fn a_trip_is_not_accepted_while_the_sensor_is_shorted() {
    let mut bench = Bench::firing(1000.0, &long_firing(1100));
    bench.run(100);
    let short = |tick: &mut Tick| {
        tick.inputs.control.as_mut().unwrap().emf_nv = 0;
        tick.inputs.heater_current_ma = None;
    };
    for _ in 0..1200 {
        bench.tick(short);
    }
    assert_eq!(bench.tripped(), Some(Cause::SensorImplausible));
    let reads = bench.core.status().reading_c.expect("believed again");
    assert!(reads < 100.0 && bench.celsius > 600.0, "{reads} °C for {} °C", bench.celsius);
    bench.confirm(short);
    assert_eq!(bench.tripped(), Some(Cause::SensorImplausible), "accepted while shorted");
}

/// After an open sensor, too, both channels must be valid and agree.
#[test]
fn a_trip_is_not_accepted_while_the_channels_disagree() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for _ in 0..10 {
        bench.tick(|tick| tick.inputs.limit = None);
    }
    assert_eq!(bench.tripped(), Some(Cause::SensorOpen));
    let elsewhere = |tick: &mut Tick| {
        tick.inputs.limit = Some(sample(ThermocoupleType::S, tick.celsius - 45.0));
    };
    for _ in 0..600 {
        bench.tick(elsewhere);
    }
    bench.confirm(elsewhere);
    assert_eq!(bench.tripped(), Some(Cause::SensorOpen));
    recovers(&mut bench, Cause::SensorOpen);
}

/// A press on confirm does not update the heater monitor a second time.
#[test]
fn confirm_does_not_count_a_tick_twice() {
    let mut bench = Bench::new(200.0, &long_firing(900));
    bench.run(300);
    let leak = |tick: &mut Tick| tick.inputs.heater_current_ma = Some(10_000);
    for index in 0..9 {
        if index % 2 == 0 {
            bench.confirm(leak);
        } else {
            bench.tick(leak);
        }
        assert_eq!(bench.tripped(), None, "tick {index}");
    }
    bench.tick(leak);
    assert_eq!(bench.tripped(), Some(Cause::HeaterStuckOn));
}

/// A furnace hotter than the later steps does not trip while no heat is demanded.
#[test]
fn a_programme_may_begin_by_cooling_a_hot_furnace() {
    let cool = step(Action::Cool { below_mc: 100_000 });
    for steps in [&[cool][..], &[cool, step(Action::MoveClosure { open: true, dwell_ms: 0 })]] {
        let mut bench = Bench::new(900.0, steps);
        bench.start();
        for _ in 0..36_000 {
            bench.run(1);
            assert_eq!(bench.tripped(), None, "at {:.0} °C", bench.celsius);
        }
        assert_eq!(bench.core.status().ending, Some(Ending::Completed));
    }
    let mut bench =
        Bench::new(900.0, &[step(Action::Cool { below_mc: 300_000 }), step(ramp(400, 30))]);
    bench.start();
    for _ in 0..36_000 {
        bench.run(1);
        assert_eq!(bench.tripped(), None, "at {:.0} °C", bench.celsius);
    }
    assert_eq!(bench.core.status().ending, Some(Ending::Completed));
}

/// The limit of the programme that tripped applies, whatever has been loaded since.
#[test]
fn loading_a_hotter_programme_does_not_clear_a_trip() {
    let mut bench = Bench::firing(800.0, &[step(ramp(820, 30)), step(soak(600))]);
    // Both channels rise together, as a furnace can: 5 K a second from where they are.
    for step in 0..100u32 {
        bench.tick(|tick| {
            let celsius = tick.celsius + f64::from(step) * 0.5;
            let reads = Some(sample(ThermocoupleType::S, celsius));
            (tick.inputs.control, tick.inputs.limit) = (reads, reads);
        });
    }
    assert_eq!(bench.tripped(), Some(Cause::AboveProgrammeLimit));
    let hotter = image(&long_firing(1100));
    bench.core.load(hotter.bytes(), &hotter.digest()).unwrap();
    let over = |tick: &mut Tick| {
        let reads = Some(sample(ThermocoupleType::S, 860.0));
        (tick.inputs.control, tick.inputs.limit) = (reads, reads);
    };
    for _ in 0..100 {
        bench.tick(over);
    }
    bench.confirm(over);
    assert_eq!(
        bench.tripped(),
        Some(Cause::AboveProgrammeLimit),
        "accepted at 860 °C after a trip above 820 °C"
    );
    // A programme without a ramp has no highest setpoint; the trip can be accepted all the same.
    let cool = image(&[step(Action::Cool { below_mc: 100_000 })]);
    bench.core.load(cool.bytes(), &cool.digest()).unwrap();
    for _ in 0..36_000 {
        bench.run(1);
    }
    bench.confirm(|_| {});
    assert_eq!(bench.tripped(), None, "cold, and still not accepted");
}

/// Accepting a trip does not make the heater monitor forget that the chamber was open.
#[test]
fn accepting_a_trip_keeps_the_settling_time_after_opening() {
    let mut bench = Bench::firing(400.0, &long_firing(900));
    for _ in 0..10 {
        bench.tick(|tick| tick.inputs.closure.shut = false);
    }
    assert_eq!(bench.tripped(), Some(Cause::ClosureOpen));
    bench.run(20);
    bench.confirm(|_| {});
    assert_eq!(bench.tripped(), None);
    for tick in 0..1200u32 {
        // The muffle warms what was put in, by 60 K.
        let warmer = 400.0 + f64::from(tick) * 0.05;
        bench.tick(|t| {
            let reads = Some(sample(ThermocoupleType::S, warmer));
            (t.inputs.control, t.inputs.limit) = (reads, reads);
            t.inputs.heater_current_ma = None;
        });
        assert_eq!(bench.tripped(), None, "tick {tick}");
    }
}

/// Readings of the two channels (°C) in a test of acceptance; `None` without a sample.
type Readings = (Option<f64>, Option<f64>);

fn read(tick: &mut Tick, readings: Readings) {
    let reads = |celsius: Option<f64>| celsius.map(|c| sample(ThermocoupleType::S, c));
    (tick.inputs.control, tick.inputs.limit) = (reads(readings.0), reads(readings.1));
}

/// A trip of a limit and what its channels may read.
struct LimitCase {
    cause: Cause,
    /// Highest setpoint of the programme (°C).
    setpoint_c: i32,
    /// Readings up to which both channels rise until the trip (°C).
    trips_at: [f64; 2],
    /// Readings just below the limit of each channel, and just over it (°C).
    below: [f64; 2],
    over: [f64; 2],
}

/// A trip of a limit is accepted only when both channels are read and below it: exactly one that is unread,
/// and exactly one that is over, keep it.
#[test]
fn one_channel_unread_or_over_keeps_a_trip() {
    let cases = [
        LimitCase {
            cause: Cause::AboveProgrammeLimit,
            setpoint_c: 820,
            trips_at: [840.0, 840.0],
            below: [834.0, 874.0],
            over: [836.0, 876.0],
        },
        LimitCase {
            cause: Cause::AboveFurnaceLimit,
            setpoint_c: 1180,
            trips_at: [1190.0, 1205.0],
            below: [1199.0, 1199.0],
            over: [1201.0, 1201.0],
        },
    ];
    for case in cases {
        let [control, limit] = case.below;
        let refused: [Readings; 4] = [
            (None, Some(limit)),
            (Some(control), None),
            (Some(case.over[0]), Some(limit)),
            (Some(control), Some(case.over[1])),
        ];
        for readings in refused {
            let cause = case.cause;
            let mut bench = tripped_by(&case);
            hold_and_confirm(&mut bench, readings);
            assert_eq!(bench.tripped(), Some(cause), "accepted with {readings:?}");
            hold_and_confirm(&mut bench, (Some(control), Some(limit)));
            assert_eq!(bench.tripped(), None, "{} not accepted below", cause.name());
        }
    }
}

/// Both channels rise until the trip.
fn tripped_by(case: &LimitCase) -> Bench {
    let at = f64::from(case.setpoint_c) - 20.0;
    let mut bench = Bench::firing(at, &[step(ramp(case.setpoint_c, 30)), step(soak(600))]);
    let [control, limit] = case.trips_at;
    let mut reads = bench.celsius;
    for _ in 0..100 {
        reads += 0.9;
        bench.tick(|tick| read(tick, (Some(reads.min(control)), Some(reads.min(limit)))));
    }
    assert_eq!(bench.tripped(), Some(case.cause));
    bench
}

/// Keeps these readings until the channels believe them, and presses confirm.
fn hold_and_confirm(bench: &mut Bench, readings: Readings) {
    for _ in 0..1200 {
        bench.tick(|tick| read(tick, readings));
    }
    bench.confirm(|tick| read(tick, readings));
}
