//! Power cuts: the furnace and the piece go on without the controller.

use saggar_plant::faults::{Fault, FaultKind};
use saggar_plant::vacuum::ValvesAtRest;

use super::{FiringOptions, bench_with, example};

/// In the soak of the example, under vacuum (s).
const SOAK_S: f64 = 95.0 * 60.0;

/// Temperature of the piece (°C) and pressure (Pa) before and after a cut in the soak, and the time that the
/// piece saw meanwhile (s).
fn cut(length_s: f64, rest: ValvesAtRest, faults: Vec<Fault>) -> [(f64, f64, f64); 2] {
    let plan = example("infiltrate-alumina");
    let options = FiringOptions { faults, ..FiringOptions::default() };
    let mut bench = bench_with(&plan, &plan.profile.spec, &plan.profile.furnace, &options);
    bench.run_until(SOAK_S);
    let state = |bench: &saggar_bench::Rehearsal| {
        let (world, now) = (bench.world(), bench.world().modelled());
        (now.piece_c, now.pressure_pa, world.pieces()[0].elapsed_s)
    };
    let before = state(&bench);
    bench.cut_power(length_s, rest);
    assert!(bench.world().drive().heater_w.abs() < 1e-9);
    [before, state(&bench)]
}

#[test]
fn a_furnace_without_power_cools_and_keeps_its_vacuum() {
    let [before, after] = cut(600.0, ValvesAtRest::default(), Vec::new());
    assert!((150.0..350.0).contains(&(before.0 - after.0)), "{before:?}, {after:?}");
    assert!(before.1 < after.1 && after.1 < 10_000.0, "{before:?}, {after:?}");
    assert!((after.2 - before.2 - 600.0).abs() < 1.0, "{before:?}, {after:?}");
}

#[test]
fn a_short_cut_lasts_at_least_a_tick() {
    let [before, after] = cut(0.05, ValvesAtRest::default(), Vec::new());
    assert!((0.05..1.05).contains(&(after.2 - before.2)), "{before:?}, {after:?}");
}

#[test]
fn valves_that_rest_open_or_stick_let_air_in() {
    let vented = ValvesAtRest { vent_open: true, ..ValvesAtRest::default() };
    let [_, after] = cut(60.0, vented, Vec::new());
    assert!(after.1 > 1e5, "{after:?}");
    let stuck = vec![FaultKind::IsolationOpen.at(SOAK_S)];
    let [before, after] = cut(60.0, ValvesAtRest::default(), stuck);
    assert!(after.1 > 5.0 * before.1, "{before:?}, {after:?}");
}
