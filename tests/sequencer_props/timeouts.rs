//! Time limits: a soak outside its band, a hold without an answer.

use saggar_core::events::EventKind;
use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Ending, SequencerInputs};

use super::SequencerBench;
use crate::support::{Bench, ramp, soak, step};

const fn hold(continues: bool) -> Step {
    step(Action::Hold { timeout_ms: 5000, continue_on_timeout: continues })
}

/// Time outside the band adds up; time inside does not reduce it.
#[test]
fn too_much_time_outside_the_band_ends_the_firing() {
    let soak = Action::Soak { duration_ms: 60_000, band_mk: 5000, band_timeout_ms: 5000 };
    let mut bench = SequencerBench::new(890.0, &[step(ramp(900, 30)), step(soak)]);
    let outside: [fn(&mut SequencerInputs); 3] = [
        |now| now.reading_c = Some(905.01),
        |now| now.reading_c = Some(894.99),
        |now| now.reading_c = None,
    ];
    bench.until(1, |_| {});
    for tick in 0..50 {
        bench.tick(outside[tick % 3]);
        for inside in [904.99, 895.01] {
            bench.tick(|now| now.reading_c = Some(inside));
        }
        assert_eq!(bench.step(), Some(1), "tick {tick}");
    }
    bench.tick(outside[0]);
    assert_eq!(bench.ended(), Some(Ending::BandLost));
}

/// Only the time inside the band counts towards the duration of a soak.
#[test]
fn a_soak_counts_only_time_inside_its_band() {
    let soak = Action::Soak { duration_ms: 60_000, band_mk: 5000, band_timeout_ms: 60_000 };
    let mut bench = SequencerBench::new(890.0, &[step(ramp(900, 30)), step(soak)]);
    bench.until(1, |_| {});
    let entered = bench.tick;
    while bench.ended().is_none() {
        let reading_c = if bench.tick.is_multiple_of(4) { 906.0 } else { 900.0 };
        bench.tick(|now| now.reading_c = Some(reading_c));
    }
    assert_eq!(bench.ended(), Some(Ending::Completed));
    let ticks = bench.tick - entered;
    assert!((798..=801).contains(&ticks), "{ticks} ticks for 600 inside");
}

/// After the time-out, and not before, the hold does what its step says.
#[test]
fn an_unanswered_hold_continues_or_ends_the_firing() {
    for continues in [true, false] {
        let mut bench =
            SequencerBench::new(890.0, &[step(ramp(900, 30)), hold(continues), step(soak(60))]);
        bench.until(1, |_| {});
        for _ in 0..50 {
            let plan = bench.tick(|_| {});
            assert!(plan.operator_hold && plan.setpoint.is_some() && bench.step() == Some(1));
        }
        bench.tick(|_| {});
        assert_eq!(bench.step(), continues.then_some(2));
        assert_eq!(bench.ended(), (!continues).then_some(Ending::Unanswered));
    }
}

/// A confirmation continues the firing, whatever the time-out would do, and answers one hold only.
#[test]
fn each_hold_needs_its_own_confirmation() {
    for continues in [true, false] {
        let steps = [step(ramp(800, 150)), hold(continues), hold(continues), step(soak(60))];
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
