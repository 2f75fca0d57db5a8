//! Thermocouple faults.

use saggar_core::Cause;
use saggar_core::sensors::ThermocoupleType;

use super::{AtRest, long_firing, recovers, restarts, trips};
use crate::support::{Bench, Tick, furnace, sample};

/// Three bad samples in a row: 300 ms.
const BAD_TICKS: u32 = 3;

fn sensor_case(cause: Cause, spoil: impl Fn(&mut Tick)) {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.tick(&spoil);
    assert_eq!(bench.out.heater_cycles, 0, "heat on a bad sample");
    bench.run(10);
    trips(&mut bench, cause, BAD_TICKS, AtRest::Seen, &spoil);
    recovers(&mut bench, cause);
}

#[test]
fn sensor_open() {
    let open = |tick: &mut Tick| tick.inputs.control.as_mut().unwrap().open = true;
    sensor_case(Cause::SensorOpen, open);
    sensor_case(Cause::SensorOpen, |tick| tick.inputs.control = None);
    sensor_case(Cause::SensorOpen, |tick| tick.inputs.limit = None);
    sensor_case(Cause::SensorOpen, |tick| tick.inputs.limit.as_mut().unwrap().open = true);
    sensor_case(Cause::SensorOpen, |tick| tick.inputs.control.as_mut().unwrap().age_ms = 501);
}

#[test]
fn sensor_implausible() {
    let cause = Cause::SensorImplausible;
    // No type S gives 30 mV, nor minus 5.
    sensor_case(cause, |tick| tick.inputs.control.as_mut().unwrap().emf_nv = 30_000_000);
    sensor_case(cause, |tick| tick.inputs.limit.as_mut().unwrap().emf_nv = -5_000_000);
    sensor_case(cause, |tick| tick.inputs.limit.as_mut().unwrap().emf_nv = i32::MAX);
    // Terminals hotter than any controller's.
    sensor_case(cause, |tick| {
        tick.inputs.control.as_mut().unwrap().cold_junction_mc = 90_000;
    });
    // A jump of 100 K in a tick.
    sensor_case(cause, |tick| {
        tick.inputs.control = Some(sample(ThermocoupleType::S, tick.celsius - 100.0));
    });
}

/// Rare bad samples switch the heat off in their tick, and the firing goes on.
#[test]
fn rare_bad_samples_ride_through() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    let mut heated = 0;
    for tick in 0..3000u32 {
        let bad = tick % 40 < 2;
        let out = bench.tick(|t| {
            if bad {
                t.inputs.control = None;
            }
        });
        assert!(!bad || out.heater_cycles == 0, "heat on a missing sample");
        heated += out.heater_cycles.count_ones();
    }
    assert_eq!(bench.tripped(), None);
    assert!(heated > 1000, "{heated} cycles");
}

/// A limit channel that drifts by half a kelvin a second.
fn drifting(way: f64) -> impl FnMut(&mut Tick) {
    let mut drift = 2.0;
    move |tick| {
        drift += 0.05 * way;
        tick.inputs.limit = Some(sample(ThermocoupleType::S, tick.celsius + drift));
    }
}

#[test]
fn channels_disagree() {
    for way in [1.0, -1.0] {
        let mut bench = Bench::firing(800.0, &long_firing(810));
        bench.run(600);
        // Below, 40 s until 20 K are passed, 5 s that may be noise. Above, what was asked for is passed
        // sooner.
        let cause = Cause::ChannelsDisagree;
        let ticks = trips(&mut bench, cause, 480, AtRest::Unseen, drifting(way));
        let earliest = if way < 0.0 { 430 } else { 30 };
        assert!(ticks > earliest, "tripped before the channels were apart: {ticks}");
        // The limit channel comes back with an impossible step, and becomes valid again after a while.
        bench.run(600);
        restarts(&mut bench);
    }
}

/// Beyond the furnace's limit there is no heat at all, and the trip lasts.
#[test]
fn channels_far_apart_trip_without_a_soak() {
    let mut loose = furnace();
    loose.limits.settled_difference_max_k = 100.0;
    let mut bench = Bench::of(loose, 800.0, &long_firing(810));
    bench.run(20);
    bench.start();
    bench.run(600);
    // 84 s until 40 K are passed, 10 s that may be noise.
    let cause = Cause::ChannelsDisagree;
    let ticks = trips(&mut bench, cause, 1000, AtRest::Seen, drifting(-1.0));
    assert!(ticks > 800, "tripped before the channels were apart: {ticks}");
    recovers(&mut bench, cause);
}
