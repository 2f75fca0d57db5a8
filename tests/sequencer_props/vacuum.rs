//! The vacuum stage: what waits for the pressure, what counts as pressure, and for how long.

use saggar_core::programme::{Action, Step, VacuumStage};
use saggar_core::sequencer::{Ending, SequencerInputs, SequencerState};

use super::SequencerBench;
use crate::support::{ramp, soak, step, under};

/// 50 hPa from this reading (°C), within ten minutes.
const fn stage(from_c: i32) -> VacuumStage {
    VacuumStage { from_mc: from_c * 1000, to_pa: 5000, within_ms: 600_000 }
}

/// The pressure of [`stage`], just.
fn drawn(now: &mut SequencerInputs) {
    now.pressure_pa = Some(5000);
}

fn reached(bench: &SequencerBench) -> bool {
    matches!(bench.sequencer.state(), SequencerState::Running(run) if run.vacuum_reached())
}

fn gathered_ms(bench: &SequencerBench) -> u32 {
    match bench.sequencer.state() {
        SequencerState::Running(run) => run.counted_ms(),
        SequencerState::Idle | SequencerState::Ended(_) => panic!("no firing"),
    }
}

/// A ramp comes to a stand within its braking distance, and goes on with the pressure.
#[test]
fn a_ramp_waits_for_the_vacuum() {
    let steps = [under(ramp(950, 30), stage(870)), step(soak(60))];
    let mut bench = SequencerBench::new(850.0, &steps);
    while bench.tick(|_| {}).vacuum_pa.is_none() {
        assert!(bench.reading_c < 870.0, "no vacuum at {} °C", bench.reading_c);
    }
    for _ in 0..1000 {
        assert_eq!(bench.tick(|_| {}).vacuum_pa, Some(5000));
    }
    let setpoint = bench.plan.setpoint.unwrap();
    assert!(setpoint.rate_k_per_s.abs() < 1.0e-6 && setpoint.celsius < 881.0, "{setpoint:?}");
    bench.until(1, drawn);
}

/// Nor does it end, also where the stage begins with its last kelvin, nor as the last step.
#[test]
fn no_step_that_heats_ends_before_the_pressure_is_there() {
    for from_c in [899, 900] {
        let mut bench = SequencerBench::new(890.0, &[under(ramp(900, 30), stage(from_c))]);
        for _ in 0..3000 {
            // Half a kelvin short, as a furnace is.
            bench.tick(|now| now.reading_c = now.reading_c.map(|reading| reading - 0.5));
        }
        assert_eq!(bench.step(), Some(0), "from {from_c} °C: ended without a vacuum");
        for _ in 0..11 {
            bench.tick(drawn);
        }
        assert_eq!(bench.ended(), Some(Ending::Completed), "from {from_c} °C");
    }
}

/// A soak neither gathers time nor loses patience while it waits inside its band, and draws
/// though the reading is a kelvin short.
#[test]
fn a_soak_does_not_count_while_it_waits() {
    let steps = [step(ramp(900, 30)), under(soak(60), stage(900)), step(soak(1))];
    let mut bench = SequencerBench::new(890.0, &steps);
    let short =
        |now: &mut SequencerInputs| now.reading_c = now.reading_c.map(|reading| reading - 1.0);
    bench.until(1, short);
    // Longer than its patience of ten minutes.
    for _ in 0..6100 {
        assert_eq!(bench.tick(short).vacuum_pa, Some(5000));
    }
    // The tick in which the pump was told.
    assert!(gathered_ms(&bench) <= 100, "{} ms at atmosphere", gathered_ms(&bench));
    let before = bench.tick;
    bench.until(2, |now| {
        short(now);
        drawn(now);
    });
    assert!((609..=611).contains(&(bench.tick - before)), "{} ticks", bench.tick - before);
}

/// Other values make another stage: its pressure is not there because that of the last one was.
#[test]
fn another_stage_starts_its_own_pump_down() {
    let first = VacuumStage { to_pa: 10_000, ..stage(20) };
    let second = VacuumStage { to_pa: 5001, within_ms: 30_000, ..stage(805) };
    let steps = [under(ramp(810, 30), first), under(ramp(900, 30), second)];
    let mut bench = SequencerBench::new(800.0, &steps);
    let weak = |now: &mut SequencerInputs| now.pressure_pa = Some(9999);
    bench.until(1, weak);
    let mut ticks = 0;
    while !bench.tick(weak).vacuum_overdue {
        assert!(!reached(&bench), "5001 Pa reached at 9999");
        ticks += 1;
        assert!(ticks <= 302, "not overdue after 30 s");
    }
}

/// The same values go on: the pump is not told to begin again.
#[test]
fn consecutive_steps_share_a_stage() {
    let carried = Some(stage(20));
    let steps = [Step::new(ramp(810, 30), carried), Step::new(soak(60), carried)];
    let mut bench = SequencerBench::new(800.0, &steps);
    bench.until(1, drawn);
    assert!(reached(&bench));
    bench.tick(drawn);
    assert!(reached(&bench));
}

/// One good reading of a noisy gauge is no vacuum: it has to last a second.
#[test]
fn a_short_dip_does_not_count_as_reached() {
    let steps = [under(ramp(900, 30), stage(20))];
    let mut bench = SequencerBench::new(800.0, &steps);
    for tick in 0..300 {
        let pa = if tick % 10 == 9 { 5001 } else { 5000 };
        bench.tick(|now| now.pressure_pa = Some(pa));
        assert!(!reached(&bench), "tick {tick}");
    }
    for _ in 0..9 {
        bench.tick(drawn);
        assert!(!reached(&bench));
    }
    bench.tick(drawn);
    assert!(reached(&bench));
    // Twice the pressure is still there, more is lost, and so is a gauge that does not answer.
    bench.tick(|now| now.pressure_pa = Some(10_000));
    assert!(reached(&bench));
    for lost in [Some(10_001), None] {
        bench.tick(|now| now.pressure_pa = lost);
        assert!(!reached(&bench), "{lost:?}");
        for _ in 0..10 {
            bench.tick(drawn);
        }
        assert!(reached(&bench));
    }
}

/// A leak that comes and goes uses up the stage's time as one that stays.
#[test]
fn waiting_times_add_up() {
    let within = VacuumStage { within_ms: 30_000, ..stage(20) };
    let steps = [under(ramp(1100, 10), within)];
    let mut bench = SequencerBench::new(800.0, &steps);
    let mut waited = 0;
    loop {
        // Five seconds of every fifteen.
        let leaks = bench.tick % 150 < 50;
        let plan = bench.tick(|now| now.pressure_pa = Some(if leaks { 90_000 } else { 4000 }));
        assert!(bench.tick < 3000, "never overdue");
        waited += u32::from(!reached(&bench));
        if plan.vacuum_overdue {
            break;
        }
    }
    assert_eq!(waited, 301, "ticks without the pressure, of 300 allowed");
}

/// The pump never draws on an open chamber, also where a firing begins by cooling with the lift
/// down.
#[test]
fn an_open_chamber_is_not_pumped() {
    let cool = under(Action::Cool { below_mc: 100_000 }, stage(200));
    let mut bench = SequencerBench::new(800.0, &[cool]);
    for _ in 0..600 {
        let plan = bench.tick(|now| (now.shut, now.open) = (false, true));
        assert_eq!(plan.vacuum_pa, None);
    }
    let plan = bench.tick(|now| (now.shut, now.open) = (true, false));
    assert_eq!(plan.vacuum_pa, Some(5000), "shut, it draws");
}
