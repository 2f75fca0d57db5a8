//! Thermocouple faults.

use saggar_core::Cause;
use saggar_core::sensors::ThermocoupleType;

use super::{AtRest, long_firing, recovers, trips};
use crate::support::{Bench, Tick, sample};

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

#[test]
fn channels_disagree() {
    for way in [1.0, -1.0] {
        let mut bench = Bench::firing(800.0, &long_firing(810));
        bench.run(600);
        let mut drift = 2.0;
        // 0.5 K/s: 84 s until 40 K are passed, 10 s that may be noise.
        let ticks = trips(&mut bench, Cause::ChannelsDisagree, 1000, AtRest::Seen, |tick| {
            drift += 0.05 * way;
            let reads = sample(ThermocoupleType::S, tick.celsius + drift);
            tick.inputs.limit = Some(reads);
        });
        assert!(ticks > 800, "tripped before the channels were apart: {ticks}");
        recovers_from_drift(&mut bench);
    }
}

/// The limit channel comes back with an impossible step, and becomes valid again after a while.
fn recovers_from_drift(bench: &mut Bench) {
    recovers(bench, Cause::ChannelsDisagree);
}
