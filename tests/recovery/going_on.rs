//! What a press of start does with an interrupted firing, step by step.

use saggar_core::controller::Bookmark;
use saggar_core::events::EventKind;
use saggar_core::furnace::Coast;
use saggar_core::programme::Action;
use saggar_core::sequencer::{
    Ending, ResumePoint, Sequencer, SequencerInputs, SequencerLimits, SequencerState,
};
use saggar_core::units::Instant;

use super::{CutBench, every_kind};
use crate::support::{image, ramp, soak, step, under, vacuum};

#[test]
fn a_press_goes_on_in_the_same_step_and_ends_the_firing_as_planned() {
    for index in 0..9 {
        let mut firing = CutBench::started(60.0, &every_kind());
        firing.run_into(index, 15);
        firing.cut(20.0);
        firing.press_start();
        let events = firing.bench.events();
        assert!(events.contains(&EventKind::FiringResumed(index)), "step {index}: {events:?}");
        assert!(!events.contains(&EventKind::FiringStarted), "step {index}");
        assert_eq!(firing.interrupted(), None);
        firing.run(20_000);
        let ending = firing.bench.core.status().ending;
        assert_eq!(ending, Some(Ending::Completed), "step {index}");
    }
}

fn gathered_ms(firing: &CutBench) -> u32 {
    match firing.bench.core.state() {
        SequencerState::Running(run) => run.counted_ms(),
        SequencerState::Idle | SequencerState::Ended(_) => panic!("no firing"),
    }
}

/// The time in the band is kept; on the way back neither the time nor the patience runs, and the
/// setpoint rises from the reading at the rate of the last ramp.
#[test]
fn a_soak_returns_to_its_setpoint_before_it_counts() {
    let soak = Action::Soak { duration_ms: 900_000, band_mk: 5_000, band_timeout_ms: 20_000 };
    let mut firing = CutBench::started(695.0, &[step(ramp(700, 30)), step(soak)]);
    firing.run_into(1, 4_000);
    let kept = firing.last.expect("a bookmark");
    assert!((280..=300).contains(&kept.gathered_s), "{kept:?}");
    firing.cut(90.0);
    firing.press_start();
    // The heater's self-test comes first.
    firing.wait(20);
    let mut ticks = 20u32;
    loop {
        firing.wait(1);
        ticks += 1;
        let setpoint = firing.bench.core.status().setpoint.expect("heats").celsius;
        assert!(setpoint <= 700.0, "{setpoint} °C");
        if setpoint > 699.9 {
            break;
        }
        assert_eq!(gathered_ms(&firing), u32::from(kept.gathered_s) * 1000);
        let fastest = firing.bench.celsius.max(610.0) + 40.0;
        assert!(f64::from(setpoint) < fastest, "{setpoint} °C at {} °C", firing.bench.celsius);
    }
    // 90 K at 30 K/min, and the rounded corners.
    assert!((1_750..3_000).contains(&ticks), "{ticks} ticks");
    firing.wait(15_000);
    assert_eq!(firing.bench.core.status().ending, Some(Ending::Completed));
}

/// After a cut of a moment the time goes on at once.
#[test]
fn inside_the_band_nothing_has_to_return() {
    let mut firing = CutBench::started(695.0, &[step(ramp(700, 30)), step(soak(3_600))]);
    firing.run_into(1, 3_100);
    let kept = u32::from(firing.last.expect("a bookmark").gathered_s) * 1000;
    firing.cut(2.0);
    firing.press_start();
    firing.wait(40);
    assert!((1..=3_000).contains(&(gathered_ms(&firing) - kept)));
}

/// However far the reading fell below the temperature at which the stage begins.
#[test]
fn a_vacuum_is_drawn_again_before_the_heat_goes_on() {
    let stage = vacuum(650);
    let steps = [step(ramp(700, 30)), under(ramp(720, 30), stage), under(soak(600), stage)];
    let mut firing = CutBench::started(695.0, &steps);
    firing.run_into(2, 3_100);
    assert!(firing.last.is_some_and(|kept| kept.has(Bookmark::VACUUM_DRAWN)));
    firing.cut(150.0);
    let cold = firing.bench.celsius;
    assert!(!firing.bench.out.pump);
    firing.press_start();
    firing.wait(20);
    for _ in 0..5_000 {
        if firing.happened(EventKind::VacuumReached) {
            break;
        }
        let setpoint = firing.bench.core.status().setpoint.expect("heats").celsius;
        assert!((f64::from(setpoint) - cold).abs() < 3.0, "{setpoint} °C without a vacuum");
        firing.wait(1);
    }
    assert!(firing.bench.out.isolation_valve);
    firing.wait(20_000);
    assert_eq!(firing.bench.core.status().ending, Some(Ending::Completed));
}

/// One that had not been drawn yet begins at its temperature, as ever.
#[test]
fn a_vacuum_that_was_not_drawn_begins_at_its_temperature() {
    let steps = [under(ramp(720, 30), vacuum(650))];
    let mut firing = CutBench::started(595.0, &steps);
    firing.run_into(0, 100);
    firing.cut(50.0);
    firing.press_start();
    while !firing.bench.out.pump {
        assert!(firing.bench.celsius < 660.0, "the pump never ran");
        firing.wait(1);
    }
    assert!(firing.bench.celsius > 640.0, "pumps at {} °C", firing.bench.celsius);
}

/// At its setpoint, with the whole time to answer.
#[test]
fn a_hold_asks_again() {
    let ask = Action::Hold { timeout_ms: 60_000, continue_on_timeout: false };
    let steps = [step(ramp(700, 30)), step(ask), step(soak(10))];
    let mut firing = CutBench::started(695.0, &steps);
    firing.run_into(1, 500);
    firing.cut(60.0);
    firing.press_start();
    firing.bench.events();
    let mut ticks = 0;
    while !firing.happened(EventKind::HoldStarted) {
        assert!(!firing.bench.out.buzzer, "asks on the way back");
        firing.wait(1);
        ticks += 1;
        assert!(ticks < 5_000, "never asks");
    }
    firing.wait(590);
    assert!(firing.bench.out.buzzer);
    firing.run(1_000);
    assert_eq!(firing.bench.core.status().ending, Some(Ending::Completed));
}

/// The second cut comes on the way back: what was gathered and drawn before the first is kept.
#[test]
fn a_cut_during_the_return_keeps_what_was_gathered() {
    let stage = vacuum(650);
    let steps = [under(ramp(700, 30), stage), under(soak(900), stage)];
    let mut firing = CutBench::started(690.0, &steps);
    firing.run_into(1, 4_000);
    let first = firing.last.expect("a bookmark");
    assert!(first.gathered_s > 200, "{first:?}");
    for _ in 0..3 {
        firing.cut(40.0);
        firing.press_start();
        firing.wait(15);
        let again = firing.last.expect("a bookmark");
        assert_eq!((again.step, again.gathered_s), (1, first.gathered_s));
        assert!(again.has(Bookmark::VACUUM_DRAWN), "{again:?}");
        assert!(again.reading_c < first.reading_c, "the reading is the new one: {again:?}");
    }
    firing.wait(20_000);
    assert_eq!(firing.bench.core.status().ending, Some(Ending::Completed));
}

/// A furnace that has cooled meanwhile: the last step ends with the press, and the log says so.
#[test]
fn a_firing_may_end_with_the_press() {
    let steps = [step(ramp(310, 60)), step(Action::Cool { below_mc: 290_000 })];
    let mut firing = CutBench::started(300.0, &steps);
    firing.run_into(1, 20);
    firing.cut(100.0);
    firing.bench.events();
    firing.press_start();
    let ends = [EventKind::FiringResumed(1), EventKind::FiringEnded(Ending::Completed)];
    assert_eq!(firing.bench.events(), ends);
}

/// The lift moves only after the press, and the time at its end is kept.
#[test]
fn opening_goes_on_without_heat() {
    let open = Action::MoveClosure { open: true, dwell_ms: 900_000 };
    let mut firing = CutBench::started(200.0, &[step(open)]);
    firing.run_into(0, 4_000);
    let kept = firing.last.expect("a bookmark");
    assert!(kept.gathered_s > 200 && kept.has(Bookmark::CHAMBER_OPEN), "{kept:?}");
    firing.cut(20.0);
    assert!(!firing.bench.out.open_closure);
    firing.press_start();
    assert!(firing.bench.out.open_closure);
    let mut ticks = 0;
    while firing.step().is_some() {
        firing.wait(1);
        assert_eq!(firing.bench.out.heater_cycles, 0);
        ticks += 1;
    }
    let left = (900 - u32::from(kept.gathered_s)) * 10;
    assert!((left - 20..=left + 20).contains(&ticks), "{ticks} ticks, {left} left");
}

/// The steps that have passed count with their shortest time: 22.5 min to 700 °C and 50 min of soak.
#[test]
fn the_time_limit_goes_on() {
    let ask = Action::Hold { timeout_ms: u32::MAX, continue_on_timeout: true };
    let image = image(&[step(ramp(700, 30)), step(soak(3_000)), step(ask)]);
    let limits = SequencerLimits {
        open_below_c: 300.0,
        firing_max_ms: 8_000_000,
        closure_travel_max_ms: 120_000,
        has_vacuum: true,
        has_auxiliary_contact: false,
        has_current_sensor: false,
    };
    let mut sequencer = Sequencer::default();
    let ended = (0..100_000u64).find(|tick| {
        let point = ResumePoint { step: 2, gathered_s: 0, vacuum_drawn: false };
        let inputs = SequencerInputs {
            now: Instant::from_millis(tick * 100),
            reading_c: Some(700.0),
            pressure_pa: None,
            shut: true,
            open: false,
            trip: None,
            start_pressed: *tick == 0,
            resume: Some(point),
            stop_held: false,
            confirm_pressed: false,
            coast: Coast::default(),
        };
        sequencer.advance(Some(&image), &limits, &inputs);
        matches!(sequencer.state(), SequencerState::Ended(Ending::TooLong))
    });
    assert_eq!(ended, Some((8_000 - 1_350 - 3_000) * 10 + 1));
}
