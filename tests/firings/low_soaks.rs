//! Soaks below 200 °C: the heat stored in the element must not carry the reading past them, from a cold or
//! a warm furnace, whatever the rate of the ramp.

use std::ops::RangeInclusive;

use saggar_bench::FiringResult;
use saggar_core::sequencer::Ending;

use super::{FiringOptions, bench_with, schedule};

/// Limit of the overshoot (K).
const OVERSHOOT_MAX_K: f64 = 3.0;

/// The same with load, mains and view all off in the worst direction (K): the control knows the mains from
/// the current, but not the load and the view.
const OVERSHOOT_IN_CORNERS_MAX_K: f64 = 3.5;

/// A furnace, and the rates of its ramps (K/min), up to its fastest.
struct Rates {
    file: &'static str,
    pieces: u32,
    k_per_min: [f64; 4],
}

const FURNACES: [Rates; 2] = [
    Rates { file: "lift-vacuum", pieces: 1, k_per_min: [2.0, 10.0, 20.0, 80.0] },
    Rates { file: "teaching-door", pieces: 4, k_per_min: [2.0, 4.0, 10.0, 15.0] },
];

/// Factors on load, mains voltage and the sensor's view of the element.
const NOMINAL: [f64; 3] = [1.0, 1.0, 1.0];
const CORNERS: [[f64; 3]; 8] = [
    [0.5, 0.9, 0.7],
    [0.5, 0.9, 1.3],
    [0.5, 1.1, 0.7],
    [0.5, 1.1, 1.3],
    [1.5, 0.9, 0.7],
    [1.5, 0.9, 1.3],
    [1.5, 1.1, 0.7],
    [1.5, 1.1, 1.3],
];

/// Fires one low soak.
fn low_soak(
    furnace: &Rates,
    to_c: f64,
    rate: f64,
    factors: [f64; 3],
    seed: u64,
) -> FiringResult {
    let [load, mains, view] = factors;
    let Rates { file, pieces, .. } = furnace;
    let plan = schedule(&format!(
        "name = \"Low\"\nfurnace = \"../furnaces/{file}.toml\"\n\
         [work]\nbody = \"alumina\"\ncount = {pieces}\nwall_millimetre = {}\n\
         area_square_millimetre = 220\n\
         [[stage]]\nramp = {{ to_celsius = {to_c}, kelvin_per_minute = {rate} }}\n\
         [[stage]]\nsoak = {{ minutes = 30, band_kelvin = 10, patience_minutes = 20 }}\n",
        0.5 * load
    ));
    let mut spec = plan.profile.spec.clone();
    spec.mains.actual_v *= mains;
    spec.table.kg *= load;
    spec.control_sensor.element_view *= view;
    spec.limit_sensor.element_view *= view;
    let options = FiringOptions { seed, ..FiringOptions::default() };
    bench_with(&plan, &spec, &plan.profile.furnace, &options).run_to_end(&plan.work)
}

/// How far the reading rose above the setpoint of the soak, and how far it was below when the soak
/// began (K).
fn overshoot_and_lag(fired: &FiringResult, to_c: f64) -> (f64, f64) {
    let rows = || fired.trace.rows.iter().filter(|row| row.measured.step.is_some());
    let highest = rows().filter_map(|row| row.measured.sensor_c).fold(f64::MIN, f64::max);
    let begins = rows().find(|row| row.measured.step == Some(1));
    let begins_c = begins.and_then(|row| row.measured.sensor_c).unwrap_or(f64::MIN);
    (highest - to_c, to_c - begins_c)
}

/// Fires all combinations and asserts that none overshoots or ends early.
#[track_caller]
fn assert_low_soaks(
    over_max_k: f64,
    soaks_c: &[f64],
    factors: &[[f64; 3]],
    seeds: RangeInclusive<u64>,
) {
    let (mut worst, mut latest, mut bad) = ((0.0, String::new()), 0.0, Vec::new());
    for furnace in &FURNACES {
        for (&to_c, rate) in
            soaks_c.iter().flat_map(|to_c| furnace.k_per_min.map(|rate| (to_c, rate)))
        {
            for &factors in factors {
                for seed in seeds.clone() {
                    let fired = low_soak(furnace, to_c, rate, factors, seed);
                    let (over_k, lag_k) = overshoot_and_lag(&fired, to_c);
                    let case = format!(
                        "{} {to_c} °C, {rate} K/min, {factors:?}, seed {seed}: {over_k:.2} K",
                        furnace.file
                    );
                    latest = f64::max(latest, lag_k);
                    if over_k > worst.0 {
                        worst = (over_k, case.clone());
                    }
                    if over_k.is_nan()
                        || over_k > over_max_k
                        || fired.ending != Some(Ending::Completed)
                    {
                        bad.push((case, fired.ending));
                    }
                }
            }
        }
    }
    println!("worst {}; at most {latest:.1} K below when the soak begins", worst.1);
    assert!(bad.is_empty(), "{bad:#?}");
}

#[test]
fn low_soaks_do_not_overshoot_at_any_rate() {
    assert_low_soaks(
        OVERSHOOT_MAX_K,
        &[40.0, 60.0, 75.0, 90.0, 120.0, 150.0],
        &[NOMINAL],
        1..=3,
    );
}

#[test]
fn low_soaks_do_not_overshoot_with_another_load_mains_or_view() {
    assert_low_soaks(OVERSHOOT_IN_CORNERS_MAX_K, &[60.0, 90.0, 150.0], &CORNERS, 1..=1);
}
