//! Starts with a furnace that is still warm: 600 of them, over the furnaces, the examples, and starts
//! from 40 to 400 °C.

use saggar_bench::FiringResult;
use saggar_core::sequencer::Ending;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::verdict::Outcome;
use saggar_schedule::FiringPlan;

use super::{FiringOptions, docs, fire};

/// The examples, each on a furnace that can fire it.
const PLANS: [(&str, &str); 6] = [
    ("clean-alumina", "teaching-door"),
    ("clean-alumina", "lift-vacuum"),
    ("melt-back", "lift-vacuum"),
    ("infiltrate-alumina", "lift-vacuum"),
    ("infiltrate-spinel-vacuum", "lift-vacuum"),
    ("infiltrate-zirconia-toughened", "lift-vacuum"),
];

/// Starts for each of them, each with its own seed.
const STARTS: u32 = 100;

/// The coldest and the hottest start (°C).
const FROM_C: f64 = 40.0;
const TO_C: f64 = 400.0;

/// Upper ends of the rows of the table (°C).
const ROWS_C: [f64; 6] = [80.0, 115.0, 150.0, 200.0, 300.0, 401.0];

/// What became of some starts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Count {
    refused: u32,
    in_band: u32,
    out_of_band: u32,
}

/// Whether the firing ran to its end with every soak in its band and no overshoot.
fn is_in_band(fired: &FiringResult) -> bool {
    let failed = |is: super::Is| {
        fired.verdict.find(is).is_some_and(|found| found.outcome == Outcome::Fail)
    };
    fired.ending == Some(Ending::Completed) && !failed(is!(Overshoot)) && !failed(is!(SoakBand))
}

fn plan_on(schedule: &str, furnace: &str) -> FiringPlan {
    let folder = docs();
    let schedule = folder.join("schedules").join(schedule).with_extension("toml");
    let furnace = folder.join("furnaces").join(furnace).with_extension("toml");
    FiringPlan::load(&schedule, Some(&furnace)).unwrap_or_else(|why| panic!("{why}"))
}

/// What became of the starts, by the rows of the table.
fn starts() -> [Count; ROWS_C.len()] {
    let mut rows = [Count::default(); ROWS_C.len()];
    for (schedule, furnace) in PLANS {
        let plan = plan_on(schedule, furnace);
        for start in 0..STARTS {
            let celsius = FROM_C + (TO_C - FROM_C) * f64::from(start) / f64::from(STARTS - 1);
            let warm = FurnaceState::evenly_warm(&plan.profile.spec, celsius);
            let seed = u64::from(start) + 1;
            let options = FiringOptions { seed, start: Some(warm), ..FiringOptions::default() };
            let fired = fire(&plan, &options);
            let row = ROWS_C.iter().position(|to_c| celsius < *to_c).expect("a row");
            let count = &mut rows[row];
            match fired.not_started {
                Some(_) => count.refused += 1,
                None if is_in_band(&fired) => count.in_band += 1,
                None => count.out_of_band += 1,
            }
        }
    }
    rows
}

#[test]
#[ignore = "600 firings: minutes"]
fn warm_starts() {
    let rows = starts();
    println!("start below | refused | in the band | out of it");
    for (to_c, Count { refused, in_band, out_of_band }) in ROWS_C.iter().zip(&rows) {
        println!("{to_c:8.0} °C | {refused:7} | {in_band:11} | {out_of_band:9}");
    }
}
