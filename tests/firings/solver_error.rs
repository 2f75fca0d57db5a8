//! The error of the chamber's solver against a fine Runge–Kutta solution of the same equations, in whole
//! firings: every example, fast ramps with vacuum, and openings at full heat. The bounds are those that
//! `docs/accuracy-and-speed.md` states.

use saggar_plant::constants::ATMOSPHERE_PA;
use saggar_plant::plant::ChamberDrive;
use saggar_plant::thermal::{Chamber, ChamberState, MAX_NODES, Network, PieceThermal, TICK_S};
use saggar_schedule::FiringPlan;

use super::{FiringOptions, bench_with, docs, example, schedule};

/// Steps of Runge–Kutta in a tick: the thinnest layer of a wall evens out in 3 ms, and below 11 steps it
/// would swing. With 20 steps the errors are the same to three digits.
const STEPS: u32 = 12;

/// Largest errors of every node but the gas, of the gas, and of the gas while the closure moves and a minute
/// after (K).
const SOLID_MAX_K: f64 = 0.1;
const GAS_MAX_K: f64 = 0.1;
const OPENING_MAX_K: f64 = 0.8;

/// Ticks after a movement of the closure that count as such: a minute.
const AFTER_TICKS: u32 = 600;

/// The largest errors of a firing (K).
#[derive(Clone, Copy, Debug, Default)]
struct SolverError {
    solid_k: f64,
    gas_k: f64,
    gas_opening_k: f64,
}

/// What drove the chamber in every tick of a firing.
fn drives(plan: &FiringPlan) -> Vec<ChamberDrive> {
    let (spec, furnace) = (&plan.profile.spec, &plan.profile.furnace);
    let mut bench = bench_with(plan, spec, furnace, &FiringOptions::default());
    let mut drives = Vec::new();
    while bench.step() == Ok(true) {
        drives.push(bench.world().drive());
    }
    drives
}

/// The same firing whose closure opens at a tick without heat, in this time (s), and stays open for ten
/// minutes.
fn opened(mut drives: Vec<ChamberDrive>, at: usize, travel_s: f64) -> Vec<ChamberDrive> {
    drives.truncate(at + 6_000);
    for (tick, drive) in drives[at..].iter_mut().enumerate() {
        let opening = (tick as f64 * TICK_S / travel_s).min(1.0);
        *drive = ChamberDrive { heater_w: 0.0, pressure_pa: ATMOSPHERE_PA, opening, ..*drive };
    }
    drives
}

fn runge_kutta(network: &Network, kelvin: &mut [f64; MAX_NODES], drive: &ChamberDrive) {
    let step = TICK_S / f64::from(STEPS);
    let around = ChamberState { pressure_pa: drive.pressure_pa, opening: drive.opening };
    let mut slopes = [[0.0; MAX_NODES]; 4];
    for _ in 0..STEPS {
        for (stage, reach) in [0.0, 0.5, 0.5, 1.0].into_iter().enumerate() {
            let mut at = *kelvin;
            if let Some(before) = stage.checked_sub(1) {
                for (at, slope) in at.iter_mut().zip(slopes[before]) {
                    *at += reach * step * slope;
                }
            }
            network.rates(&at, drive.heater_w, around, &mut slopes[stage]);
        }
        for (i, kelvin) in kelvin.iter_mut().enumerate() {
            let inner = slopes[1][i] + slopes[2][i];
            *kelvin += step / 6.0 * (slopes[0][i] + 2.0 * inner + slopes[3][i]);
        }
    }
}

fn error(plan: &FiringPlan, drives: &[ChamberDrive]) -> SolverError {
    let spec = &plan.profile.spec;
    let mut ours = Chamber::new(spec, &PieceThermal::of(&plan.work), spec.ambient_c)
        .unwrap_or_else(|why| panic!("{why:?}"));
    let mut exact = ours.kelvin();
    let gas = ours.network().slot(ours.nodes().gas);
    let mut error = SolverError::default();
    let (mut last, mut moved) = (0.0_f64, AFTER_TICKS);
    for drive in drives {
        runge_kutta(ours.network(), &mut exact, drive);
        drive.advance(&mut ours);
        moved = if (drive.opening - last).abs() > 0.0 { 0 } else { moved.saturating_add(1) };
        last = drive.opening;
        for (node, (found, exact)) in ours.kelvin().iter().zip(exact).enumerate() {
            let worst = match (node == gas, moved < AFTER_TICKS) {
                (true, true) => &mut error.gas_opening_k,
                (true, false) => &mut error.gas_k,
                (false, _) => &mut error.solid_k,
            };
            let off_k = (found - exact).abs();
            assert!(off_k.is_finite());
            *worst = worst.max(off_k);
        }
    }
    error
}

#[track_caller]
fn assert_bounds(name: &str, error: SolverError) {
    println!("{name}: {error:?}");
    let SolverError { solid_k, gas_k, gas_opening_k } = error;
    assert!(solid_k <= SOLID_MAX_K, "{name}: {error:?}");
    assert!(gas_k <= GAS_MAX_K, "{name}: {error:?}");
    assert!(gas_opening_k <= OPENING_MAX_K, "{name}: {error:?}");
}

#[test]
fn every_example_stays_within_the_stated_error() {
    let files = std::fs::read_dir(docs().join("schedules")).expect("the examples");
    let mut names: Vec<String> = files
        .filter_map(|file| Some(file.ok()?.path().file_stem()?.to_str()?.to_owned()))
        .collect();
    names.sort();
    assert!(names.len() >= 6, "{names:?}");
    std::thread::scope(|scope| {
        for name in &names {
            scope.spawn(move || {
                let plan = example(name);
                assert_bounds(name, error(&plan, &drives(&plan)));
            });
        }
    });
}

fn fast(kelvin_per_minute: u32) -> FiringPlan {
    schedule(&format!(
        r#"
name = "Fast"
furnace = "../furnaces/lift-vacuum.toml"

[work]
body = "alumina"
count = 12
wall_millimetre = 0.5
area_square_millimetre = 220

[[stage]]
vacuum = {{ from_celsius = 650, to_hectopascal = 60, within_minutes = 3, until_end_of = "soak" }}

[[stage]]
ramp = {{ to_celsius = 1120, kelvin_per_minute = {kelvin_per_minute} }}

[[stage]]
soak = {{ minutes = 10, band_kelvin = 5 }}
name = "soak"

[[stage]]
cool = {{ below_celsius = 500 }}

[[stage]]
opening = {{ position = "open", minutes = 5 }}
"#
    ))
}

#[test]
fn fast_ramps_with_vacuum_stay_within_the_stated_error() {
    for rate in [50, 80] {
        let plan = fast(rate);
        assert_bounds(&format!("{rate} K/min"), error(&plan, &drives(&plan)));
    }
}

#[test]
fn openings_at_full_heat_stay_within_the_stated_error() {
    let plan = fast(50);
    let at = (1_100.0 / 50.0 * 600.0 + 6_000.0) as usize;
    for travel_s in [2.0, plan.profile.spec.closure_travel_s] {
        let drives = opened(drives(&plan), at, travel_s);
        assert_bounds(&format!("lift in {travel_s} s"), error(&plan, &drives));
    }
    let plan = example("clean-alumina");
    let drives = drives(&plan);
    // In its soak at 875 °C.
    let at = 160 * 600;
    let door = opened(drives, at, plan.profile.spec.closure_travel_s);
    assert_bounds("door", error(&plan, &door));
}
