//! The loop of the bench with a recording, a fork, an aborted firing, an observer without rows, and an
//! observer of the plant's true state.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use std::ops::ControlFlow;

use saggar_bench::firmware::{BareCore, Firmware, Playback, PlaybackError};
use saggar_bench::observer::{Observer, TickRecord};
use saggar_bench::operator::Operator;
use saggar_bench::trace::{COLUMNS, Trace};
use saggar_bench::{Bench, FiringResult, RehearsalSetup};
use saggar_core::Controller;
use saggar_core::controller::StartError;
use saggar_core::events::{Ending, Event, EventKind};
use saggar_core::io::{Buttons, Outputs};
use saggar_device::wire::Tick;
use saggar_plant::faults::FaultKind;
use saggar_schedule::FiringPlan as Plan;
use saggar_verdict::Verdict;

use super::{FiringOptions, TickRecorder, example, setup_with};

fn setup(plan: &Plan) -> RehearsalSetup<'_> {
    setup_with(plan, &FiringOptions::default())
}

/// A verdict as text, so that NaN compares equal to NaN.
fn as_text(verdict: &Verdict) -> String {
    format!("{verdict:?}")
}

/// Plays a recording against the same simulated furnace.
fn replayed(plan: &Plan, tape: Vec<Tick>) -> Result<FiringResult, PlaybackError> {
    let setup = setup(plan);
    let mut core = Controller::new(plan.profile.furnace.clone());
    core.load(plan.image.bytes(), &plan.image.digest()).unwrap();
    let recorded = Playback::new(core, tape.into_iter())?;
    let watching = (setup.summary_recorder(), Trace::default());
    let world = setup.world().unwrap();
    let mut bench = Bench::new(world, recorded, (), watching);
    let go_on = |_: &mut _| Ok::<_, PlaybackError>(ControlFlow::<()>::Continue(()));
    let _ = bench.run(go_on)?;
    let (world, _, (summary, trace)) = bench.into_parts();
    Ok(FiringResult::from_world(&world, summary, trace, &plan.work))
}

#[test]
fn playback_gives_the_trace_and_the_verdict_of_the_recorded_firing() {
    let plan = example("clean-alumina");
    let fired = setup(&plan).bench((Trace::default(), TickRecorder::default())).unwrap();
    let FiringResult { trace: (trace, tape), verdict, ticks, .. } =
        fired.run_to_end(&plan.work);
    let again = replayed(&plan, tape.0.clone()).unwrap();
    assert!(ticks > 20_000);
    assert_eq!((again.ticks, &again.trace), (ticks, &trace));
    assert_eq!(as_text(&again.verdict), as_text(&verdict));
    // One output that the core would not give.
    let mut altered = tape.0;
    let tick = altered[20_000];
    let mut outputs = tick.outputs();
    outputs.contactor = !outputs.contactor;
    altered[20_000] = Tick::new(tick.number, tick.at_ms, &tick.inputs(), &outputs);
    match replayed(&plan, altered) {
        Err(PlaybackError::Differs(differs)) => assert_eq!(differs.tick, 20_001),
        other => panic!("{:?}", other.map(|firing| firing.ticks)),
    }
}

#[test]
fn a_fork_runs_like_an_independent_bench() {
    let plan = example("clean-alumina");
    let struck = vec![FaultKind::ElementOpen.at(1800.0)];
    let mut bench = setup(&plan).bench(Trace::default()).unwrap();
    bench.run_until(1800.0);
    assert!((bench.world().now_s() - 1800.0).abs() < 0.05);
    let (faulted, healthy) = (bench.fork(struck.clone()), bench);
    let alone = |faults| {
        let setup = RehearsalSetup { faults, ..setup(&plan) };
        setup.bench(Trace::default()).unwrap().run_to_end(&plan.work)
    };
    let (faulted, healthy) = (faulted.run_to_end(&plan.work), healthy.run_to_end(&plan.work));
    assert_eq!(faulted.trace, alone(struck).trace);
    assert_eq!(healthy.trace, alone(Vec::new()).trace);
    assert_ne!(faulted.trace, healthy.trace);
}

#[test]
fn a_firing_can_be_aborted_from_the_progress_callback() {
    let plan = example("clean-alumina");
    let mut minutes = Vec::new();
    let aborted = setup(&plan).bench(()).unwrap().run_with_progress(&plan.work, |now_s| {
        minutes.push(now_s);
        if minutes.len() == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(aborted.is_break());
    let minute = |(count, at_s): (usize, &f64)| (at_s - 60.0 * (count + 1) as f64).abs() < 0.2;
    assert!(minutes.len() == 3 && minutes.iter().enumerate().all(minute), "{minutes:?}");
}

/// Playback works for a device that booted an hour earlier; a recording that begins during a firing or
/// lacks a tick is rejected.
#[test]
fn playback_needs_a_recording_without_gaps_from_before_the_start() {
    let plan = example("clean-alumina");
    let fired = setup(&plan).bench((Trace::default(), TickRecorder::default())).unwrap();
    let FiringResult { trace: (trace, tape), .. } = fired.run_to_end(&plan.work);
    let later = |tick: &Tick| {
        let at_ms = tick.at_ms + 3_600_000;
        Tick::new(tick.number + 36_000, at_ms, &tick.inputs(), &tick.outputs())
    };
    let again = replayed(&plan, tape.0.iter().map(later).collect()).unwrap();
    assert_eq!(again.trace.events, trace.events);
    let mut with_gap = tape.0.clone();
    with_gap.remove(5_000);
    assert_eq!(replayed(&plan, with_gap).unwrap_err(), PlaybackError::Gap(5_000));
    let mut bench = setup(&plan).bench(()).unwrap();
    bench.run_until(60.0);
    let firing = bench.firmware.core().clone();
    let refused = Playback::new(firing, tape.0.into_iter().skip(620));
    assert_eq!(refused.map(|_| ()).unwrap_err(), PlaybackError::Firing);
}

/// Presses start, stop, and start again before the furnace has cooled.
struct Hasty {
    stop_ms: u64,
    /// The question whether the chamber is shut was answered in the last tick.
    answered: bool,
}

impl Operator for Hasty {
    fn buttons(&mut self, now_ms: u64, _: &Outputs, firmware: &impl Firmware) -> Buttons {
        let asked = firmware.status().start_error == Some(StartError::ContactUnproven);
        if asked || self.answered {
            self.answered = asked;
            return Buttons { start: !asked, confirm: asked, ..Buttons::default() };
        }
        let again = self.stop_ms + 10_000;
        let start = (2_000..2_100).contains(&now_ms) || (again..again + 100).contains(&now_ms);
        let stop = (self.stop_ms..self.stop_ms + 1_000).contains(&now_ms);
        Buttons { start, stop, confirm: false }
    }
}

/// A firing that begins in the tail of another is a separate firing: it runs to its own end, and the
/// traces do not overlap.
#[test]
fn a_firing_in_the_tail_of_another_is_a_separate_firing() {
    let plan = example("clean-alumina");
    let drift = FaultKind::ControlDrift.at(600.0);
    for (stop_ms, faults) in
        [(1_000_000, vec![]), (6_000_000, vec![]), (1_000_000, vec![drift])]
    {
        let setup = RehearsalSetup { faults, ..setup(&plan) };
        let watching = || (setup.summary_recorder(), Trace::default());
        let mut device = plan.profile.furnace.clone();
        device.limits.start_below = device.limits.programme_max;
        let mut core = Controller::new(device);
        core.load(plan.image.bytes(), &plan.image.digest()).unwrap();
        let world = setup.world().unwrap();
        let operator = Hasty { stop_ms, answered: false };
        let mut bench = Bench::new(world, BareCore::new(core), operator, watching());
        while bench.step().unwrap() {}
        assert!(bench.next_firing_started());
        let (world, (summary, trace)) = bench.start_next(|| setup.world(), watching()).unwrap();
        let first = FiringResult::from_world(&world, summary, trace, &plan.work);
        assert_eq!(first.ending, Some(Ending::Stopped));
        assert!(!first.verdict.passed());
        let stopped_s = stop_ms as f64 / 1000.0 - 2.0;
        assert!((first.trace.duration_s() - stopped_s).abs() < 1.0);
        while bench.step().unwrap() {}
        let (world, _, (summary, trace)) = bench.into_parts();
        let second = FiringResult::from_world(&world, summary, trace, &plan.work);
        for trace in [&first.trace, &second.trace] {
            let started = |event: &&Event| event.kind == EventKind::FiringStarted;
            assert_eq!(trace.events.iter().filter(started).count(), 1);
            assert_eq!(trace.events[0].kind, EventKind::FiringStarted);
            assert!(trace.rows.windows(2).all(|pair| pair[0].at_s < pair[1].at_s));
        }
        let tail = first.trace.rows.last().map_or(0.0, |row| row.measured.sensor_c.unwrap());
        let begins = second.trace.rows[0].measured.sensor_c.unwrap();
        assert!((tail - begins).abs() < 20.0, "the furnace stays: {tail} and {begins} °C");
        // The furnace may be too hot for the first stages, but the second firing must then end by itself.
        assert!(second.ending.is_some(), "cut off after {} s", second.trace.duration_s());
    }
}

/// A fault that is active when the bench is forked stays active in the fork.
#[test]
fn a_fork_keeps_active_faults() {
    let plan = example("clean-alumina");
    let stuck = FaultKind::ElementOpen.at(600.0);
    let setup = RehearsalSetup { faults: vec![stuck], ..setup(&plan) };
    let mut bench = setup.bench(Trace::default()).unwrap();
    bench.run_until(601.0);
    let fork = bench.fork(Vec::new()).run_to_end(&plan.work);
    assert_eq!(fork.trace, bench.run_to_end(&plan.work).trace);
}

/// Records the true state of the plant.
#[derive(Default)]
struct PlantRecorder {
    ticks: u64,
    hottest_muffle_c: f64,
    heated_j: f64,
}

impl Observer for PlantRecorder {
    fn tick(&mut self, record: &TickRecord<'_>) {
        self.ticks += 1;
        self.hottest_muffle_c = self.hottest_muffle_c.max(record.world.modelled().muffle_c);
        self.heated_j += record.world.drive().heater_w * 0.1;
    }
}

#[test]
fn an_observer_without_rows_gets_the_same_verdict_and_the_state_of_the_plant() {
    let plan = example("clean-alumina");
    let kept = setup(&plan).bench(Trace::default()).unwrap().run_to_end(&plan.work);
    let FiringResult { verdict, trace: recorder, ticks, .. } =
        setup(&plan).bench(PlantRecorder::default()).unwrap().run_to_end(&plan.work);
    assert_eq!(as_text(&verdict), as_text(&kept.verdict));
    let modelled = |row: &saggar_bench::trace::Row| super::modelled(row).muffle_c;
    let hottest_c = kept.trace.rows.iter().map(modelled).fold(0.0, f64::max);
    assert!((recorder.hottest_muffle_c - hottest_c).abs() < 1e-9);
    assert!((recorder.heated_j / kept.trace.energy_j - 1.0).abs() < 1e-6);
    assert!(recorder.ticks > ticks, "it records from power-up on");
}

#[test]
fn every_column_has_a_unique_name_and_values() {
    let mut plan = example("infiltrate-spinel-vacuum");
    // More than the inner ring of places holds.
    plan.work.count = 8;
    let fired = setup(&plan).bench(Trace::default()).unwrap().run_to_end(&plan.work);
    let mut names: Vec<_> = COLUMNS.iter().map(|column| column.name).collect();
    for column in &COLUMNS {
        let some = fired.trace.rows.iter().filter_map(column.value).filter(|v| v.is_finite());
        assert!(some.count() > 100, "{} is empty", column.name);
    }
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), COLUMNS.len());
}
