//! The state in which a firing finds the furnace: evenly warm, or as another firing left it.

use saggar_plant::furnace_state::FurnaceState;
use saggar_schedule::FiringPlan;

use super::{FiringOptions, example, fire, modelled, setup_with};

fn warm(plan: &FiringPlan, celsius: f64) -> FurnaceState {
    FurnaceState::evenly_warm(&plan.profile.spec, celsius)
}

fn from(start: FurnaceState) -> FiringOptions {
    FiringOptions { start: Some(start), ..FiringOptions::default() }
}

/// The furnace (°C) after a pause (s): muffle, and control sensor.
fn cooled(plan: &FiringPlan, state: &FurnaceState, pause_s: f64) -> (f64, f64) {
    let state = state.after_pause(&plan.profile.spec, &plan.work, pause_s).expect("a furnace");
    (state.temperatures.muffle_c, state.temperatures.control_sensor_c)
}

#[test]
fn a_start_as_warm_as_the_room_is_the_cold_start_bit_for_bit() {
    let plan = example("clean-alumina");
    let even = fire(&plan, &from(warm(&plan, plan.profile.spec.ambient_c)));
    let cold = fire(&plan, &FiringOptions::default());
    assert!(cold.trace.rows.len() > 3_000);
    assert_eq!(even.trace, cold.trace);
    assert_eq!(even.furnace_at_end, cold.furnace_at_end);
}

#[test]
fn a_warm_furnace_is_even_and_the_piece_in_it_cold() {
    let plan = example("infiltrate-alumina");
    let options = from(warm(&plan, 150.0));
    let world = setup_with(&plan, &options).world().expect("a furnace");
    let (begins, state) = (world.modelled(), world.furnace_state());
    assert!((begins.piece_c - plan.profile.spec.ambient_c).abs() < 1e-9, "{begins:?}");
    let piece = state.temperatures.piece_c;
    let warm = state.temperatures.all().filter(|celsius| (celsius - 150.0).abs() < 1e-9);
    assert_eq!(warm.count() + piece.len(), state.temperatures.all().count(), "{state:?}");
    let fired = fire(&plan, &options);
    let (first, later) = (&fired.trace.rows[0], &fired.trace.rows[20]);
    let sensor_c = first.measured.sensor_c.expect("a reading");
    assert!((sensor_c - 150.0).abs() < 3.0, "{sensor_c} °C");
    assert!(modelled(later).piece_c > modelled(first).piece_c, "the furnace warms the piece");
    let terminals = first.measured.inputs.control.expect("a sample").cold_junction_mc;
    let terminals_k = f64::from(terminals) / 1000.0 - plan.profile.spec.ambient_c;
    assert!((terminals_k - 6.0).abs() < 0.1, "{terminals_k} K");
}

#[test]
fn the_next_firing_finds_the_furnace_as_the_last_one_left_it() {
    let plan = example("infiltrate-alumina");
    let left = fire(&plan, &FiringOptions::default());
    let last = left.trace.rows.last().expect("a row");
    let found = fire(&plan, &from(left.furnace_at_end));
    let first = &found.trace.rows[0];
    let (last_c, first_c) = (modelled(last).muffle_c, modelled(first).muffle_c);
    assert!(last_c > 100.0 && (last_c - first_c).abs() < 5.0, "{last_c} and {first_c} °C");
    assert!(modelled(last).opening > 0.9, "the schedule ends with an open furnace");
    // The lift stays open until the firing shuts it.
    assert!(modelled(first).opening > 0.5, "{}", modelled(first).opening);
    assert!(modelled(first).piece_c < modelled(last).piece_c, "new work is cold");
}

#[test]
fn a_furnace_cools_in_a_pause_and_faster_while_it_is_open() {
    let plan = example("infiltrate-alumina");
    let shut = warm(&plan, 400.0);
    let open = FurnaceState { opening: 1.0, ..shut };
    let (muffle_c, sensor_c) = cooled(&plan, &shut, 0.0);
    assert!((muffle_c - 400.0).abs() < 1e-9 && (sensor_c - 400.0).abs() < 1e-9);
    let (shut_c, open_c) = (cooled(&plan, &shut, 1_800.0).0, cooled(&plan, &open, 1_800.0).0);
    assert!(open_c + 20.0 < shut_c && shut_c < 390.0, "shut {shut_c} °C, open {open_c} °C");
    let (muffle_c, sensor_c) = cooled(&plan, &open, 86_400.0);
    let room_c = plan.profile.spec.ambient_c;
    assert!((muffle_c - room_c).abs() < 0.5 && (sensor_c - room_c).abs() < 0.5, "{muffle_c}");
}

#[test]
fn only_a_state_that_a_furnace_can_have_is_credible() {
    let good = warm(&example("clean-alumina"), 150.0);
    assert!(good.is_credible());
    let mut all = [good; 5];
    all[0].temperatures.insulation_c[5] = f64::NAN;
    all[1].temperatures.pin_c = 1e9;
    all[2].terminals_c = -300.0;
    all[3].pressure_pa = -1.0;
    all[4].opening = 1.5;
    for state in all {
        assert!(!state.is_credible(), "{state:?}");
    }
}
