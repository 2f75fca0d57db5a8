//! Whole firings, from the schedule file through core and chamber to the verdict.

/// Whether a subject of the verdict is of this kind, with any data.
macro_rules! is {
    ($subject:ident) => {
        |subject: &saggar_verdict::Subject| {
            matches!(subject, saggar_verdict::Subject::$subject { .. })
        }
    };
}

mod advice;
mod bench;
mod bit_flips;
mod closure;
mod control;
mod cuts;
mod dead_element;
mod drying;
mod electrical;
mod examples;
mod faults;
mod healthy;
mod low_soaks;
mod pace;
mod pinned;
mod power_cuts;
mod recorded;
mod replay;
mod sensor_faults;
mod soaks;
mod solver_error;
mod starts;
mod vacuum_faults;
mod warm_starts;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_bench::observer::{Observer, TickRecord};
use saggar_bench::trace::{Row, Trace};
use saggar_bench::{Rehearsal, RehearsalSetup};
use saggar_core::furnace::Furnace;
use saggar_device::wire::Tick;
use saggar_files::SourceText;
use saggar_plant::faults::Fault;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::plant::ModelState;
use saggar_plant::spec::FurnaceSpec;
use saggar_schedule::FiringPlan;
use saggar_verdict::{Finding, Subject, Verdict};

/// Selects a subject of the verdict; written with `is!`.
type Is = fn(&Subject) -> bool;

/// The finding on a subject.
#[track_caller]
fn finding(verdict: &Verdict, is: Is) -> &Finding {
    verdict.find(is).unwrap_or_else(|| panic!("no such finding in {verdict:#?}"))
}

/// The `docs` folder, which holds the example schedules and profiles.
fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs")
}

/// An example schedule.
#[track_caller]
fn example(name: &str) -> FiringPlan {
    let path = docs().join("schedules").join(name).with_extension("toml");
    FiringPlan::load(&path, None).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// An example schedule on an example furnace.
#[track_caller]
fn example_on(name: &str, furnace: &str) -> FiringPlan {
    let path = |folder: &str, name: &str| docs().join(folder).join(name).with_extension("toml");
    FiringPlan::load(&path("schedules", name), Some(&path("furnaces", furnace)))
        .unwrap_or_else(|why| panic!("{name} on {furnace}: {why}"))
}

/// A schedule from text, for one of the example furnaces.
#[track_caller]
fn schedule(text: &str) -> FiringPlan {
    let source = Arc::new(SourceText::new("in the test", text));
    FiringPlan::from_source(&source, Some(&docs().join("schedules")), None)
        .unwrap_or_else(|why| panic!("{:#?}", why.diagnostics()))
}

/// Options of a rehearsal. Mains voltage and feed-forward are factors on the profile's values.
#[derive(Clone, Debug)]
struct FiringOptions {
    seed: u64,
    mains: f64,
    feed_forward: f32,
    faults: Vec<Fault>,
    operator_s: Option<f64>,
    /// The furnace before the firing; `None` for a cold one.
    start: Option<FurnaceState>,
}

impl Default for FiringOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            mains: 1.0,
            feed_forward: 1.0,
            faults: Vec::new(),
            operator_s: Some(30.0),
            start: None,
        }
    }
}

/// Fires a plan.
#[track_caller]
fn fire(plan: &FiringPlan, options: &FiringOptions) -> saggar_bench::FiringResult {
    let mut furnace = plan.profile.spec.clone();
    furnace.mains.actual_v *= options.mains;
    let mut device = plan.profile.furnace.clone();
    for point in &mut device.heater.feed_forward {
        point.hold_w *= options.feed_forward;
        point.heat_capacity_j_per_k *= options.feed_forward;
    }
    bench_with(plan, &furnace, &device, options).run_to_end(&plan.work)
}

/// The bench for a plan on this furnace, before its first tick.
#[track_caller]
fn bench_with(
    plan: &FiringPlan,
    furnace: &FurnaceSpec,
    device: &Furnace,
    options: &FiringOptions,
) -> Rehearsal {
    let setup = RehearsalSetup { furnace, device, ..setup_with(plan, options) };
    setup.bench(Trace::default()).unwrap_or_else(|why| panic!("{why}"))
}

/// The setup of a rehearsal on the furnace that the plan names.
fn setup_with<'a>(plan: &'a FiringPlan, options: &FiringOptions) -> RehearsalSetup<'a> {
    RehearsalSetup {
        furnace: &plan.profile.spec,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: options.seed,
        faults: options.faults.clone(),
        operator_delay_s: options.operator_s,
        start: options.start,
    }
}

/// The modelled values of a row.
#[track_caller]
fn modelled(row: &Row) -> ModelState {
    row.modelled.expect("the row of a rehearsal")
}

/// Records the inputs and outputs of every tick.
#[derive(Default)]
struct TickRecorder(Vec<Tick>);

impl Observer for TickRecorder {
    fn tick(&mut self, record: &TickRecord<'_>) {
        let number = self.0.len() as u32 + 1;
        let at_ms = record.world.now_ms();
        self.0.push(Tick::new(number, at_ms, record.inputs, record.outputs));
    }
}
