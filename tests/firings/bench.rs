//! The one loop, with whatever is put into it: a recording, a fork, a firing that is broken off, an
//! observer that keeps nothing, and one that sees the truth.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use std::ops::ControlFlow;

use saggar_bench::firmware::{Recorded, RecordedError};
use saggar_bench::observer::{Observer, Summary, Ticked};
use saggar_bench::trace::{COLUMNS, Trace};
use saggar_bench::{Bench, Firing, Setup};
use saggar_core::Controller;
use saggar_device::wire::Tick;
use saggar_plant::faults::{Fault, Scheduled};
use saggar_plant::verdict::Verdict;
use saggar_schedule::Firing as Plan;

use super::example;

fn setup(plan: &Plan) -> Setup<'_> {
    Setup {
        furnace: &plan.profile.spec,
        device: &plan.profile.furnace,
        work: &plan.work,
        programme: &plan.image,
        seed: 1,
        faults: Vec::new(),
        operator_s: Some(30.0),
    }
}

/// All of a verdict: two that are not numbers are the same, too.
fn said(verdict: &Verdict) -> String {
    format!("{verdict:?}")
}

/// All that firmware was told and answered.
#[derive(Default)]
struct Tape(Vec<Tick>);

impl Observer for Tape {
    fn tick(&mut self, ticked: &Ticked<'_>) {
        let number = self.0.len() as u32 + 1;
        let at_ms = ticked.world.now_ms();
        self.0.push(Tick::new(number, at_ms, ticked.inputs, ticked.outputs));
    }
}

/// A recording in front of the same furnace: the same trace, and the same verdict.
fn replayed(plan: &Plan, tape: Vec<Tick>) -> Result<Firing, RecordedError> {
    let setup = setup(plan);
    let mut core = Controller::new(plan.profile.furnace.clone());
    core.load(plan.image.bytes(), &plan.image.digest()).unwrap();
    let recorded = Recorded::new(core, tape.into_iter());
    let summary = Summary::of(&plan.image, &plan.profile.spec, &plan.profile.furnace);
    let watching = (summary, Trace::default());
    let world = setup.world().unwrap();
    let mut bench = Bench::new(world, &plan.profile.furnace, recorded, (), watching);
    let go_on = |_: &mut _| Ok::<_, RecordedError>(ControlFlow::<()>::Continue(()));
    let _ = bench.run(go_on)?;
    let ending = bench.ending();
    let (world, _, (summary, trace)) = bench.into_parts();
    Ok(Firing::of(&world, summary, trace, &plan.work, ending))
}

#[test]
fn a_recording_has_the_trace_and_the_verdict_of_its_firing() {
    let plan = example("clean-alumina");
    let fired = setup(&plan).bench((Trace::default(), Tape::default())).unwrap();
    let Firing { trace: (trace, tape), verdict, ticks, .. } = fired.fired(&plan.work);
    let again = replayed(&plan, tape.0.clone()).unwrap();
    assert!(ticks > 20_000);
    assert_eq!((again.ticks, &again.trace), (ticks, &trace));
    assert_eq!(said(&again.verdict), said(&verdict));
    // One answer that the core would not give.
    let mut altered = tape.0;
    let tick = altered[20_000];
    let mut outputs = tick.outputs();
    outputs.contactor = !outputs.contactor;
    altered[20_000] = Tick::new(tick.number, tick.at_ms, &tick.inputs(), &outputs);
    match replayed(&plan, altered) {
        Err(RecordedError::Differs(differs)) => assert_eq!(differs.tick, 20_001),
        other => panic!("{:?}", other.map(|firing| firing.ticks)),
    }
}

#[test]
fn a_fork_goes_on_as_if_it_had_been_alone() {
    let plan = example("clean-alumina");
    let struck = vec![Scheduled { at_s: 1800.0, fault: Fault::ElementOpen }];
    let mut bench = setup(&plan).bench(Trace::default()).unwrap();
    bench.run_until(1800.0);
    assert!((bench.world().now_s() - 1800.0).abs() < 0.05);
    let (faulted, healthy) = (bench.fork(struck.clone()), bench);
    let alone = |faults| {
        let setup = Setup { faults, ..setup(&plan) };
        setup.bench(Trace::default()).unwrap().fired(&plan.work)
    };
    let (faulted, healthy) = (faulted.fired(&plan.work), healthy.fired(&plan.work));
    assert_eq!(faulted.trace, alone(struck).trace);
    assert_eq!(healthy.trace, alone(Vec::new()).trace);
    assert_ne!(faulted.trace, healthy.trace);
}

#[test]
fn a_firing_can_be_broken_off() {
    let plan = example("clean-alumina");
    let mut minutes = Vec::new();
    let broken = setup(&plan).bench(()).unwrap().fire(&plan.work, |now_s| {
        minutes.push(now_s);
        if minutes.len() == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(broken.is_none());
    let minute = |(count, at_s): (usize, &f64)| (at_s - 60.0 * (count + 1) as f64).abs() < 0.2;
    assert!(minutes.len() == 3 && minutes.iter().enumerate().all(minute), "{minutes:?}");
}

/// What the plant really is, whatever the instruments say.
#[derive(Default)]
struct Judge {
    ticks: u64,
    hottest_muffle_c: f64,
    heated_j: f64,
}

impl Observer for Judge {
    fn tick(&mut self, ticked: &Ticked<'_>) {
        self.ticks += 1;
        self.hottest_muffle_c = self.hottest_muffle_c.max(ticked.world.modelled().muffle_c);
        self.heated_j += ticked.world.drive().heater_w * 0.1;
    }
}

#[test]
fn who_keeps_no_row_has_the_same_verdict_and_a_judge_sees_the_plant() {
    let plan = example("clean-alumina");
    let kept = setup(&plan).bench(Trace::default()).unwrap().fired(&plan.work);
    let Firing { verdict, trace: judge, ticks, .. } =
        setup(&plan).bench(Judge::default()).unwrap().fired(&plan.work);
    assert_eq!(said(&verdict), said(&kept.verdict));
    let modelled = |row: &saggar_bench::trace::Row| super::modelled(row).muffle_c;
    let hottest_c = kept.trace.rows.iter().map(modelled).fold(0.0, f64::max);
    assert!((judge.hottest_muffle_c - hottest_c).abs() < 1e-9);
    assert!((judge.heated_j / kept.trace.energy_j - 1.0).abs() < 1e-6);
    assert!(judge.ticks > ticks, "it watches from power-up on");
}

#[test]
fn every_column_has_its_name_and_something_in_it() {
    let plan = example("infiltrate-spinel-vacuum");
    let fired = setup(&plan).bench(Trace::default()).unwrap().fired(&plan.work);
    let mut names: Vec<_> = COLUMNS.iter().map(|column| column.name).collect();
    for column in &COLUMNS {
        let some = fired.trace.rows.iter().filter_map(column.value).filter(|v| v.is_finite());
        assert!(some.count() > 100, "{} is empty", column.name);
    }
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), COLUMNS.len());
}
