//! Starts with a furnace that is still warm: 600 of them, over the furnaces, the examples, and starts
//! from 40 to 400 °C.

use saggar_bench::FiringResult;
use saggar_core::controller::StartError;
use saggar_core::sequencer::Ending;
use saggar_plant::furnace_state::FurnaceState;
use saggar_schedule::FiringPlan;
use saggar_verdict::{NotStarted, Outcome};

use super::{FiringOptions, example_on, fire};

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

/// The `start_below_celsius` of both furnaces.
const START_BELOW_C: f64 = 150.0;

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

/// A furnace that stands warm: with what it fired last still in it, or with new work, as cold as the room.
fn warm_furnace(plan: &FiringPlan, celsius: f64, is_loaded: bool) -> FurnaceState {
    let warm = FurnaceState::evenly_warm(&plan.profile.spec, celsius);
    if is_loaded { warm.loaded(plan.profile.spec.ambient_c) } else { warm }
}

/// Fires the plans from `starts` temperatures each, every second one with cold work, and counts what
/// became of them in `rows`, by their upper ends.
fn count_starts<const N: usize>(
    plans: &[(&str, &str)],
    (starts, from_c, to_c): (u32, f64, f64),
    rows_c: [f64; N],
) -> [Count; N] {
    let mut rows = [Count::default(); N];
    for (schedule, furnace) in plans {
        let plan = example_on(schedule, furnace);
        for start in 0..starts {
            let celsius = from_c + (to_c - from_c) * f64::from(start) / f64::from(starts - 1);
            let warm = warm_furnace(&plan, celsius, start % 2 == 1);
            let seed = u64::from(start) + 1;
            let options = FiringOptions { seed, start: Some(warm), ..FiringOptions::default() };
            let fired = fire(&plan, &options);
            let row = rows_c.iter().position(|to_c| celsius < *to_c).expect("a row");
            let count = &mut rows[row];
            match fired.not_started {
                Some(NotStarted(StartError::TooHot)) => count.refused += 1,
                None if is_in_band(&fired) => count.in_band += 1,
                _ => {
                    println!(
                        "{schedule} on {furnace} from {celsius:.1} °C: {:?}",
                        fired.ending
                    );
                    count.out_of_band += 1;
                }
            }
        }
    }
    rows
}

#[test]
fn a_warm_start_stays_in_the_band() {
    // One with a soak at 80 °C, one with a soak at 110 °C, on both furnaces.
    let plans = [PLANS[0], PLANS[1], PLANS[3]];
    let rows = count_starts(&plans, (12, FROM_C, 149.0), [150.0]);
    assert_eq!(rows, [Count { refused: 0, in_band: 36, out_of_band: 0 }]);
}

#[test]
#[ignore = "600 firings: half a minute"]
fn warm_starts() {
    let rows = count_starts(&PLANS, (STARTS, FROM_C, TO_C), ROWS_C);
    println!("start below | refused | in the band | out of it");
    for (to_c, Count { refused, in_band, out_of_band }) in ROWS_C.iter().zip(&rows) {
        println!("{to_c:8.0} °C | {refused:7} | {in_band:11} | {out_of_band:9}");
    }
    for (to_c, count) in ROWS_C.iter().zip(&rows) {
        // All these programmes begin with heat.
        let wrong = if *to_c <= START_BELOW_C { count.refused } else { count.in_band };
        assert_eq!((wrong, count.out_of_band), (0, 0), "below {to_c} °C: {count:?}");
    }
}
