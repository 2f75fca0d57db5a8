//! What waits, and for how long: a soak outside its band, a question without an answer.

use saggar_core::events::EventKind;
use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Ending, SequencerInputs};

use super::Walk;
use crate::support::{Bench, ramp, soak, step};

const fn ask(go_on: bool) -> Step {
    step(Action::Hold { timeout_ms: 5000, continue_on_timeout: go_on })
}

/// Time outside adds up; time inside neither counts against it nor gives any back.
#[test]
fn a_soak_gives_up_after_its_patience() {
    let soak = Action::Soak { duration_ms: 60_000, band_mk: 5000, band_timeout_ms: 5000 };
    let mut walk = Walk::new(890.0, &[step(ramp(900, 30)), step(soak)]);
    let outside: [fn(&mut SequencerInputs); 3] = [
        |now| now.reading_c = Some(905.01),
        |now| now.reading_c = Some(894.99),
        |now| now.reading_c = None,
    ];
    walk.until(1, |_| {});
    for tick in 0..50 {
        walk.tick(outside[tick % 3]);
        for inside in [904.99, 895.01] {
            walk.tick(|now| now.reading_c = Some(inside));
        }
        assert_eq!(walk.step(), Some(1), "tick {tick}");
    }
    walk.tick(outside[0]);
    assert_eq!(walk.ended(), Some(Ending::BandLost));
}

/// Inside its band a soak takes its time and no more.
#[test]
fn a_soak_counts_time_inside() {
    let soak = Action::Soak { duration_ms: 60_000, band_mk: 5000, band_timeout_ms: 60_000 };
    let mut walk = Walk::new(890.0, &[step(ramp(900, 30)), step(soak)]);
    walk.until(1, |_| {});
    let entered = walk.tick;
    while walk.ended().is_none() {
        let reading_c = if walk.tick.is_multiple_of(4) { 906.0 } else { 900.0 };
        walk.tick(|now| now.reading_c = Some(reading_c));
    }
    assert_eq!(walk.ended(), Some(Ending::Completed));
    let ticks = walk.tick - entered;
    assert!((798..=801).contains(&ticks), "{ticks} ticks for 600 inside");
}

/// Silence means what the step says, after its time and not before.
#[test]
fn silence_goes_on_or_ends() {
    for go_on in [true, false] {
        let mut walk = Walk::new(890.0, &[step(ramp(900, 30)), ask(go_on), step(soak(60))]);
        walk.until(1, |_| {});
        for _ in 0..50 {
            let plan = walk.tick(|_| {});
            assert!(plan.operator_hold && plan.setpoint.is_some() && walk.step() == Some(1));
        }
        walk.tick(|_| {});
        assert_eq!(walk.step(), go_on.then_some(2));
        assert_eq!(walk.ended(), (!go_on).then_some(Ending::Unanswered));
    }
}

/// An answer goes on, whatever silence would have meant, and answers one question.
#[test]
fn each_question_is_asked_and_answered() {
    for go_on in [true, false] {
        let steps = [step(ramp(800, 150)), ask(go_on), ask(go_on), step(soak(60))];
        let mut bench = Bench::firing(795.0, &steps);
        while bench.core.status().step == Some(0) {
            bench.run(1);
        }
        for index in [1, 2] {
            assert_eq!(bench.core.status().step, Some(index));
            let asked =
                bench.events().iter().filter(|what| **what == EventKind::HoldStarted).count();
            assert_eq!(asked, 1, "question {index}");
            bench.run(20);
            assert!(bench.out.buzzer && bench.core.status().step == Some(index));
            bench.confirm(|_| {});
        }
        assert_eq!(bench.core.status().step, Some(3));
        assert!(!bench.out.buzzer);
    }
}
