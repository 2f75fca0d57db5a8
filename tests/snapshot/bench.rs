//! Snapshots on the bench: in every kind of step, and around every trip.

use std::collections::BTreeSet;

use saggar_core::Cause;
use saggar_core::controller::Bookmark;
use saggar_core::programme::{Action, Step};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::sequencer::{Ending, SequencerState};

use super::{FOLLOWED, Followers, events};
use crate::support::{Bench, Tick, furnace, ramp, sample, soak, step, under, vacuum};

/// The states in which snapshots were taken.
#[derive(Default)]
struct Seen {
    snapshots: u32,
    steps: BTreeSet<u8>,
    causes: BTreeSet<&'static str>,
    idle: bool,
    completed: bool,
    stopped: bool,
    longest: usize,
}

/// Runs so many spoilt ticks with a snapshot in every `every`th, and as long again as the last
/// snapshot is followed.
fn walk(
    bench: &mut Bench,
    ticks: u32,
    every: u32,
    seen: &mut Seen,
    mut spoil: impl FnMut(u32, &mut Tick),
) {
    events(&mut bench.core);
    let mut followers = Followers::new(&furnace());
    for tick in 0..ticks + FOLLOWED {
        if tick < ticks && tick.is_multiple_of(every) {
            followers.begin(&bench.core);
            seen.snapshots += 1;
            seen.causes.extend(bench.tripped().map(Cause::name));
            match bench.core.state() {
                SequencerState::Idle => seen.idle = true,
                SequencerState::Running(run) => {
                    seen.steps.insert(run.step_index());
                }
                SequencerState::Ended(ending) => {
                    seen.completed |= *ending == Ending::Completed;
                    seen.stopped |= *ending == Ending::Stopped;
                }
            }
        }
        bench.tick(|it| spoil(tick, it));
        let (told, out) = (bench.last_inputs(), bench.out);
        followers.follow(&mut bench.core, told, out);
    }
    assert_eq!(followers.done, ticks.div_ceil(every), "followed to the end");
    seen.longest = seen.longest.max(followers.longest);
}

fn every_kind() -> [Step; 9] {
    let ask = Action::Hold { timeout_ms: 60_000, continue_on_timeout: true };
    let under_vacuum = |action| under(action, vacuum(250));
    [
        step(ramp(150, 60)),
        step(ask),
        under_vacuum(ramp(400, 100)),
        under_vacuum(soak(30)),
        step(Action::Cool { below_mc: 330_000 }),
        step(Action::Cool { below_mc: 290_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 20_000 }),
        step(Action::MoveClosure { open: false, dwell_ms: 20_000 }),
        step(ramp(300, 60)),
    ]
}

#[test]
fn a_whole_firing_on_the_bench() {
    let steps = every_kind();
    let mut bench = Bench::at_power_up(20.0, &steps);
    let mut seen = Seen::default();
    walk(&mut bench, 18_000, 61, &mut seen, |tick, it| {
        it.inputs.buttons.start = tick == 300;
        it.inputs.buttons.confirm = tick == 2_300;
    });
    assert_eq!(seen.steps.len(), steps.len(), "steps seen: {:?}", seen.steps);
    assert!(seen.idle && seen.completed);
    println!("{} snapshots, the longest of {} bytes", seen.snapshots, seen.longest);
}

#[test]
fn the_first_ticks() {
    let mut bench = Bench::at_power_up(20.0, &every_kind());
    let mut seen = Seen::default();
    walk(&mut bench, 60, 1, &mut seen, |tick, it| it.inputs.buttons.start = tick == 30);
    assert!(seen.idle && seen.steps.contains(&0));
}

/// Interrupted in the soak under vacuum: before the press, on the way back, and to the end.
#[test]
fn a_firing_that_goes_on_after_a_power_cut() {
    let mut bench = Bench::at_power_up(300.0, &every_kind());
    let flags = Bookmark::VACUUM_DRAWN;
    let bookmark = Bookmark { step: 3, gathered_s: 10, reading_c: 600, flags };
    assert!(bench.core.offer_bookmark(bookmark));
    let mut seen = Seen::default();
    walk(&mut bench, 6_000, 61, &mut seen, |tick, it| {
        // The reading has fallen so far that the first press only asks.
        it.inputs.buttons.start = tick == 300 || tick == 500;
    });
    assert!(
        seen.idle && seen.steps.contains(&3) && seen.steps.contains(&5),
        "{:?}",
        seen.steps
    );
}

/// Both channels read this much more than is true (K).
fn hotter(it: &mut Tick, kelvin: f64) {
    let reads = Some(sample(ThermocoupleType::S, it.celsius + kelvin));
    (it.inputs.control, it.inputs.limit) = (reads, reads);
}

type Spoil = fn(u32, &mut Tick);

/// The faults. The first argument counts from the first faulty tick.
const FAULTS: [Spoil; 16] = [
    |_, it| it.inputs.limit = None,
    |_, it| it.inputs.control.as_mut().expect("a sample").emf_nv = 0,
    |tick, it| hotter(it, f64::from(tick) * 0.5),
    // At rest, so that the programme does not trip first, and before a rise is called a stuck heater.
    |tick, it| {
        it.inputs.buttons.stop = tick == 0;
        hotter(it, (f64::from(tick) * 2.2).min(430.0));
    },
    |tick, it| {
        let kelvin = (f64::from(tick) * 0.5).min(50.0);
        it.inputs.limit = Some(sample(ThermocoupleType::S, it.celsius + 2.0 + kelvin));
    },
    |_, it| it.effect = 0.0,
    |tick, it| {
        it.inputs.buttons.stop = tick == 0;
        it.inputs.heater_current_ma = Some(9_000);
    },
    |_, it| it.inputs.closure.shut = false,
    |_, it| it.inputs.pressure_pa = None,
    |_, it| it.millis = 400,
    |_, it| it.inputs.contactor_closed = false,
    |_, it| it.inputs.heater_current_ma = Some(0),
    |_, it| it.inputs.heater_current_ma = it.inputs.heater_current_ma.map(|ma| ma / 2),
    |_, it| it.inputs.mains_crossings = Some(7),
    |_, it| it.inputs.limit.as_mut().expect("a sample").cold_junction_mc += 15_000,
    |tick, it| it.inputs.pressure_pa = it.inputs.pressure_pa.map(|pa| pa + 200 * tick),
];

/// What the inputs of this simple bench do not provoke. Changed data cannot come in through inputs, the
/// others take whole firings: `firings` replays those.
const NOT_HERE: [Cause; 8] = [
    Cause::ProgrammeChanged,
    Cause::FurnaceDataChanged,
    Cause::AboveSetpoint,
    Cause::SensorFrozen,
    Cause::SensorLagging,
    Cause::ClosureStuck,
    Cause::IsolationStuck,
    Cause::VacuumLate,
];

#[test]
fn snapshots_around_every_trip() {
    let steps = [under(ramp(900, 30), vacuum(700)), under(soak(7200), vacuum(700))];
    let mut seen = Seen::default();
    for (index, fault) in FAULTS.into_iter().enumerate() {
        let mut bench = Bench::firing(800.0, &steps);
        // A heater without effect and a wrong clock take long to be found; the others come and go.
        let until = if matches!(index, 5 | 13) { 1_700 } else { 700 };
        walk(&mut bench, 2_400, 9, &mut seen, |tick, it| {
            if (200..until).contains(&tick) {
                fault(tick - 200, it);
            }
            it.inputs.buttons.confirm = tick.is_multiple_of(500);
            it.inputs.buttons.start = tick.is_multiple_of(550);
        });
    }
    println!("{} snapshots, the longest of {} bytes", seen.snapshots, seen.longest);
    println!("{:?}", seen.causes);
    assert!(seen.stopped);
    let expected = Cause::ALL.into_iter().filter(|cause| !NOT_HERE.contains(cause));
    let missing: Vec<_> =
        expected.filter(|cause| !seen.causes.contains(cause.name())).collect();
    assert_eq!(missing, [], "not provoked");
}
