//! Corner cases of the sequencer that a random search would hardly find.

use saggar_core::programme::{Action, Step, ViolationKind, verify};
use saggar_core::sequencer::{Sequencer, SequencerState};

use super::{LIMITS, now};
use crate::support::{furnace, image, ramp, soak, step};

/// Follows the setpoint exactly and returns the ticks that the first step took.
fn ticks_of_first_step(steps: &[Step], from_c: f32) -> u64 {
    let image = image(steps);
    let mut sequencer = Sequencer::default();
    let mut reading_c = from_c;
    for tick in 0..864_000 {
        let plan = sequencer.advance(Some(&image), &LIMITS, &now(tick, reading_c));
        match sequencer.state() {
            SequencerState::Running(run) if run.step_index() == 0 => {}
            SequencerState::Idle | SequencerState::Running(_) | SequencerState::Ended(_) => {
                return tick;
            }
        }
        reading_c = plan.setpoint.map_or(reading_c, |setpoint| setpoint.celsius);
    }
    panic!("a ramp that never arrives");
}

/// Slow ramps at high temperature: single precision has a step of 0.12 mK there, and a ramp of
/// 1 K/min is 1.7 mK a tick. A ramp takes its time and 40 s for the two corners; the last 2 mK
/// are given up, which spares a very slow one 10 s.
#[test]
fn slow_ramps_keep_their_rate() {
    for (rate_mk_per_min, span_k) in [(100u32, 10i32), (500, 20), (1000, 50), (10_000, 100)] {
        let to_c = 1150;
        let action = Action::Ramp { to_mc: to_c * 1000, rate_mk_per_min };
        let steps = [step(action), step(soak(60))];
        let ticks = ticks_of_first_step(&steps, (to_c - span_k) as f32);
        let seconds = ticks as f64 * 0.1;
        let expected = f64::from(span_k) * 60_000.0 / f64::from(rate_mk_per_min) + 40.0;
        println!("{rate_mk_per_min} mK/min: {seconds:.1} s, expected {expected:.1} s");
        assert!((seconds - expected).abs() < 11.0, "{seconds} s, not {expected} s");
    }
}

/// A cooling step that is already below its temperature does not become a setpoint to heat to.
#[test]
fn cooling_never_raises_the_setpoint() {
    let steps =
        [step(ramp(500, 60)), step(Action::Cool { below_mc: 1_100_000 }), step(soak(60))];
    let image = image(&steps);
    let mut sequencer = Sequencer::default();
    let mut reading_c = 480.0;
    for tick in 0..2000 {
        let plan = sequencer.advance(Some(&image), &LIMITS, &now(tick, reading_c));
        reading_c = plan.setpoint.map_or(reading_c, |setpoint| setpoint.celsius);
        assert!(reading_c <= 500.001, "{reading_c} °C");
    }
    assert!(matches!(sequencer.state(), SequencerState::Ended(_)));
}

/// A move gives up the setpoint: what a soak after it would hold is whatever the furnace is at.
#[test]
fn a_soak_after_a_move_has_no_setpoint() {
    let steps = [
        step(ramp(250, 60)),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
        step(Action::MoveClosure { open: false, dwell_ms: 0 }),
        step(soak(60)),
    ];
    let found = verify(&image(&steps), &furnace());
    assert_eq!(
        found.list.first().map(|f| (f.step, f.kind)),
        Some((Some(3), ViolationKind::NoSetpoint))
    );
}
