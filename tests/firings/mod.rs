//! Whole firings: a schedule file, the real core, the chamber, the verdict.

/// Whether a subject of the verdict is this one, whatever its data.
macro_rules! is {
    ($subject:ident) => {
        |subject: &saggar_plant::verdict::Subject| {
            matches!(subject, saggar_plant::verdict::Subject::$subject { .. })
        }
    };
}

mod advice;
mod bench;
mod control;
mod drying;
mod examples;
mod faults;
mod pace;
mod replay;
mod soaks;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use saggar_bench::trace::{Row, Trace};
use saggar_bench::{Rehearsal, RehearsalSetup};
use saggar_core::furnace::Furnace;
use saggar_files::SourceText;
use saggar_plant::faults::ScheduledFault;
use saggar_plant::plant::ModelState;
use saggar_plant::spec::FurnaceSpec;
use saggar_plant::verdict::{Finding, Subject, Verdict};
use saggar_schedule::FiringPlan;

/// Which subject is meant, as `is!` says it.
type Is = fn(&Subject) -> bool;

/// The finding on a subject.
#[track_caller]
fn on(verdict: &Verdict, is: Is) -> &Finding {
    verdict.find(is).unwrap_or_else(|| panic!("nothing on it in {verdict:#?}"))
}

/// The folder of the book, where the example schedules are.
fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs")
}

/// One of the example schedules.
#[track_caller]
fn example(name: &str) -> FiringPlan {
    let path = docs().join("schedules").join(name).with_extension("toml");
    FiringPlan::load(&path, None).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// A schedule that stands in a test, for a furnace of the book.
#[track_caller]
fn schedule(text: &str) -> FiringPlan {
    let source = Arc::new(SourceText::new("in the test", text));
    FiringPlan::from_source(&source, Some(&docs().join("schedules")), None)
        .unwrap_or_else(|why| panic!("{:#?}", why.diagnostics()))
}

/// How a rehearsal differs from the plain one.
#[derive(Clone, Debug)]
struct How {
    seed: u64,
    mains: f64,
    feed_forward: f32,
    faults: Vec<ScheduledFault>,
    operator_s: Option<f64>,
}

impl Default for How {
    fn default() -> Self {
        Self {
            seed: 1,
            mains: 1.0,
            feed_forward: 1.0,
            faults: Vec::new(),
            operator_s: Some(30.0),
        }
    }
}

/// Fires a plan.
#[track_caller]
fn fire(plan: &FiringPlan, how: &How) -> saggar_bench::FiringResult {
    let mut furnace = plan.profile.spec.clone();
    furnace.mains.actual_v *= how.mains;
    let mut device = plan.profile.furnace.clone();
    for point in &mut device.heater.feed_forward {
        point.hold_w *= how.feed_forward;
        point.heat_capacity_j_per_k *= how.feed_forward;
    }
    bench_of(plan, &furnace, &device, how).run_to_end(&plan.work)
}

/// The bench for a plan on a furnace, about to be started.
#[track_caller]
fn bench_of(
    plan: &FiringPlan,
    furnace: &FurnaceSpec,
    device: &Furnace,
    how: &How,
) -> Rehearsal {
    let setup = RehearsalSetup { furnace, device, ..setup_of(plan, how) };
    setup.bench(Trace::default()).unwrap_or_else(|why| panic!("{why}"))
}

/// What a rehearsal of a plan is made of, on the furnace that it names.
fn setup_of<'a>(plan: &'a FiringPlan, how: &How) -> RehearsalSetup<'a> {
    RehearsalSetup {
        furnace: &plan.profile.spec,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: how.seed,
        faults: how.faults.clone(),
        operator_delay_s: how.operator_s,
    }
}

/// What only a simulation knows of a row.
#[track_caller]
fn modelled(row: &Row) -> ModelState {
    row.modelled.expect("the row of a rehearsal")
}
