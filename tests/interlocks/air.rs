//! Pump and valves: a hot chamber is not vented, and a stopped pump is never open to the chamber.

use proptest::prelude::*;
use saggar_core::control::{VacuumConditions, VacuumControl};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::sequencer::Demand;

use super::{assert_safe, long_firing};
use crate::support::{Bench, Tick, ramp, sample, soak, step, under, vacuum};

/// Ticks for which the pump runs with its valve shut, before and after: 2 s.
const ALONE: u32 = 20;

/// A cool chamber, and a gauge that is not asked.
const COOL: VacuumConditions = VacuumConditions {
    worst_case_c: Some(100.0),
    vent_below_c: 600.0,
    pressure_pa: None,
    isolation_stuck: false,
};

fn under_vacuum() -> Bench {
    let steps = [under(ramp(900, 30), vacuum(810)), step(soak(600))];
    Bench::drawing(800.0, &steps)
}

/// A trip under vacuum: the chamber is shut off at once, the pump runs on, and air stays out
/// until both readings are below the furnace's limit for it.
#[test]
fn trip_under_vacuum_keeps_air_out_of_a_hot_chamber() {
    let mut bench = under_vacuum();
    bench.tick(|tick| tick.millis = 300);
    assert_safe(&bench);
    let mut pumped = 0;
    let mut vented_at = None;
    for _ in 0..36_000 {
        assert!(!bench.out.isolation_valve, "open after the trip");
        pumped += u32::from(bench.out.pump);
        if bench.out.vent_valve {
            vented_at = vented_at.or(Some(bench.celsius));
            assert!(!bench.out.pump, "air let in past a running pump");
        }
        bench.run(1);
    }
    assert!((ALONE..=ALONE + 2).contains(&pumped), "the pump ran on for {pumped} ticks");
    let vented_at = vented_at.expect("air in the end");
    // Five kelvin below the limit of 600 °C, by the hotter channel.
    assert!((590.0..595.5).contains(&vented_at), "air at {vented_at} °C");
    let silent: [fn(&mut Tick); 2] =
        [|tick| tick.inputs.control = None, |tick| tick.inputs.limit = None];
    for silence in silent {
        assert!(!bench.tick(silence).vent_valve, "air let in on one reading");
        bench.run(10);
        assert!(bench.out.vent_valve);
    }
}

/// A shorted control thermocouple, or one that has drifted down, reads like a cold chamber. The limit
/// channel contradicts it.
#[test]
fn a_false_cold_reading_does_not_vent_a_hot_chamber() {
    let lies: [fn(&mut Tick); 2] = [
        |tick| tick.inputs.control.as_mut().unwrap().emf_nv = 0,
        |tick| {
            tick.inputs.control = Some(sample(ThermocoupleType::S, tick.celsius - 150.0));
        },
    ];
    for lie in lies {
        let mut bench = under_vacuum();
        bench.run(200);
        for _ in 0..3000 {
            assert!(!bench.tick(lie).vent_valve, "air at {:.0} °C", bench.celsius);
        }
        assert!(bench.tripped().is_some());
        // Both are below the limit by now, and still say different things.
        assert!(bench.celsius < 560.0, "{:.0} °C", bench.celsius);
    }
}

/// Within the allowed difference the hotter channel decides.
#[test]
fn the_hotter_channel_decides() {
    for [control, limit] in [[580.0, 605.0], [605.0, 580.0]] {
        let mut bench = Bench::new(800.0, &long_firing(900));
        for _ in 0..1000 {
            let out = bench.tick(|tick| {
                tick.inputs.control = Some(sample(ThermocoupleType::S, control));
                tick.inputs.limit = Some(sample(ThermocoupleType::S, limit));
            });
            assert!(!out.vent_valve, "control {control} °C, limit {limit} °C");
        }
    }
}

/// Noise around the limit does not move the valve: it opens 5 K below and shuts at it.
#[test]
fn the_vent_does_not_chatter() {
    let mut bench = Bench::new(610.0, &long_firing(900));
    let mut edges = 0;
    for index in 0..1200 {
        let noise = if index % 7 < 3 { 1.5 } else { -1.5 };
        let reads = 605.0 - f64::from(index) * 0.02 + noise;
        let was = bench.out.vent_valve;
        let out = bench.tick(|tick| {
            tick.inputs.control = Some(sample(ThermocoupleType::S, reads));
            tick.inputs.limit = tick.inputs.control;
        });
        edges += u32::from(out.vent_valve != was);
    }
    assert!(bench.out.vent_valve);
    assert_eq!(edges, 1);
}

proptest! {
    /// However the plan comes and goes: the chamber is open to the pump only once the pump has
    /// run for two seconds, the pump runs on for two, and air never meets either.
    #[test]
    fn pump_and_valves_keep_their_order(
        stretches in prop::collection::vec((any::<bool>(), 1u32..60), 1..20),
    ) {
        let mut control = VacuumControl::default();
        let (mut pumped, mut since_open) = (0, u32::MAX);
        for (draw, ticks) in stretches {
            for _ in 0..ticks {
                let plan = Demand { vacuum_pa: draw.then_some(5000), ..Demand::default() };
                let valves = control.step(&plan, &COOL);
                if valves.isolation {
                    prop_assert!(draw && valves.pump && pumped >= ALONE, "{pumped} ticks");
                }
                since_open = if valves.isolation { 0 } else { since_open.saturating_add(1) };
                prop_assert!(valves.pump || since_open > ALONE, "off after {since_open} ticks");
                prop_assert!(!valves.vent || !valves.pump && !valves.isolation);
                prop_assert!(valves.pump || !draw, "a draw without a pump");
                pumped = if valves.pump { pumped + 1 } else { 0 };
            }
        }
    }
}

/// The sequence in ticks: a pump-down of a minute from idle.
#[test]
fn one_pump_down_in_ticks() {
    let mut control = VacuumControl::default();
    let mut count = |vacuum_pa, ticks| {
        let plan = Demand { vacuum_pa, ..Demand::default() };
        let all = (0..ticks).map(|_| control.step(&plan, &COOL));
        all.fold([0, 0, 0], |[pump, isolation, vent], valves| {
            [
                pump + u32::from(valves.pump),
                isolation + u32::from(valves.isolation),
                vent + u32::from(valves.vent),
            ]
        })
    };
    assert_eq!(count(None, 100), [0, 0, 100]);
    assert_eq!(count(Some(5000), 600), [600, 600 - ALONE, 0]);
    assert_eq!(count(None, 100), [ALONE, 0, 100 - ALONE]);
}
