//! Healthy firings never trip: another load, other mains, another view of the sensors, a warm or a hot
//! start, other noise, on both furnaces. An interlock that trips without a fault would be bridged.
//!
//! `SAGGAR_FIRINGS=10000 cargo test -p saggar-tests healthy -- --ignored --nocapture` fires ten thousand.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use saggar_bench::RehearsalSetup;
use saggar_core::controller::StartError;
use saggar_core::sequencer::Ending;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::verdict::NotStarted;
use saggar_schedule::FiringPlan;

use super::{example, example_on, schedule};

/// Near the limits of the furnace with a door: its fastest ramps, a low soak, its hottest soak.
const HOT_IN_THE_DOOR_FURNACE: &str = r#"name = "Hot"
furnace = "../furnaces/teaching-door.toml"
[work]
body = "alumina"
wall_millimetre = 0.5
area_square_millimetre = 220
[[stage]]
ramp = { to_celsius = 70, kelvin_per_minute = 15 }
[[stage]]
soak = { minutes = 15, band_kelvin = 10 }
[[stage]]
ramp = { to_celsius = 1080, kelvin_per_minute = 15 }
[[stage]]
soak = { minutes = 30, band_kelvin = 5 }
[[stage]]
cool = { below_celsius = 450 }
"#;

/// Every example on the furnace that it names, and one of each kind on the other furnace.
fn plans() -> Vec<FiringPlan> {
    vec![
        example("clean-alumina"),
        example("infiltrate-alumina"),
        example("infiltrate-spinel-vacuum"),
        example("infiltrate-zirconia-toughened"),
        example("melt-back"),
        example_on("clean-alumina", "lift-vacuum"),
        schedule(HOT_IN_THE_DOOR_FURNACE),
    ]
}

/// Draws numbers for one firing.
struct Draw(Xoshiro256PlusPlus);

impl Draw {
    /// A number between two others, all equally likely.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = f64::from(self.0.next_u32()) / f64::from(u32::MAX);
        low + share * (high - low)
    }
}

/// How a firing ended, in a word or two.
fn fire_one(plans: &[FiringPlan], seed: u64) -> (String, bool) {
    let mut draw = Draw(Xoshiro256PlusPlus::seed_from_u64(seed));
    let plan = &plans[usize::try_from(seed).expect("small") % plans.len()];
    let (mut furnace, mut work) = (plan.profile.spec.clone(), plan.work.clone());
    work.area_m2 *= draw.between(0.5, 1.5);
    furnace.table.kg *= draw.between(0.5, 1.5);
    furnace.mains.actual_v *= draw.between(0.9, 1.1);
    furnace.control_sensor.element_view *= draw.between(0.7, 1.3);
    furnace.limit_sensor.element_view *= draw.between(0.7, 1.3);
    // A third starts cold, a third warm, a third hot.
    let start_c = match seed % 3 {
        0 => None,
        1 => Some(draw.between(furnace.ambient_c, 149.0)),
        _ => Some(draw.between(151.0, 500.0)),
    };
    let start = start_c.map(|celsius| FurnaceState::evenly_warm(&furnace, celsius));
    let setup = RehearsalSetup {
        furnace: &furnace,
        device: &plan.profile.furnace,
        work: &work,
        programme: &plan.image,
        seed,
        faults: Vec::new(),
        operator_delay_s: Some(30.0),
        start,
    };
    let bench = setup.bench(()).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
    let result = match bench.run_with_progress(&work, |_| ControlFlow::<()>::Continue(())) {
        ControlFlow::Continue(result) => result,
        ControlFlow::Break(()) => unreachable!("never broken off"),
    };
    let hot = start_c.is_some_and(|celsius| celsius > 150.0);
    match (result.ending, result.not_started) {
        (Some(Ending::Completed), _) => ("completed".to_owned(), true),
        // Refusing a hot start is an answer, not a trip.
        (_, Some(NotStarted(StartError::TooHot))) if hot => {
            ("too hot to start".to_owned(), true)
        }
        (ending, not_started) => {
            (format!("{ending:?} {not_started:?}, start {start_c:?}"), false)
        }
    }
}

/// Fires seeds on both cores and counts the endings; the seeds of unhealthy ones come with them.
fn fire_all(count: u64) -> BTreeMap<(bool, String), Vec<u64>> {
    let plans = plans();
    let threads = std::thread::available_parallelism().map_or(1, |count| count.get() as u64);
    let endings = std::thread::scope(|scope| {
        let plans = &plans;
        let workers: Vec<_> = (0..threads)
            .map(|worker| {
                let seeds = (worker..count).step_by(usize::try_from(threads).expect("few"));
                scope.spawn(move || {
                    seeds.map(|seed| (seed, fire_one(plans, seed))).collect::<Vec<_>>()
                })
            })
            .collect();
        let joined = workers.into_iter().flat_map(|worker| worker.join().expect("no panic"));
        joined.collect::<Vec<_>>()
    });
    let mut counted: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for (seed, (ending, healthy)) in endings {
        counted.entry((healthy, ending)).or_default().push(seed);
    }
    counted
}

fn assert_healthy(count: u64) {
    let endings = fire_all(count);
    for ((healthy, ending), seeds) in &endings {
        println!("{:>6} {ending}{}", seeds.len(), if *healthy { "" } else { "  <-" });
    }
    let bad: Vec<_> = endings.iter().filter(|((healthy, _), _)| !healthy).collect();
    assert!(bad.is_empty(), "{bad:#?}");
    let completed = endings.get(&(true, "completed".to_owned())).map_or(0, Vec::len);
    assert!(completed as u64 >= count / 2, "only {completed} of {count} were completed");
}

#[test]
fn healthy_firings_do_not_trip() {
    assert_healthy(42);
}

#[test]
#[ignore = "minutes; see the head of this file"]
fn full_healthy_firings_do_not_trip() {
    let count =
        std::env::var("SAGGAR_FIRINGS").map_or(1_000, |text| text.parse().expect("a number"));
    assert_healthy(count);
}
