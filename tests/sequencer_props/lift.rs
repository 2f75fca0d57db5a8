//! The lift: shut before heat, opened only when cool and vented, not moved at the end.

use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Ending, SequencerInputs, Wait};

use super::SequencerBench;
use crate::support::{ramp, soak, step};

const OPEN: Step = step(Action::MoveClosure { open: true, dwell_ms: 0 });
const SHUT: Step = step(Action::MoveClosure { open: false, dwell_ms: 2000 });

/// The lift is found open.
fn stands_open(now: &mut SequencerInputs) {
    (now.shut, now.open) = (false, true);
}

/// It waits for both conditions for as long as it takes.
#[test]
fn opens_only_when_cool_and_vented() {
    let missing: [fn(&mut SequencerInputs); 4] = [
        |now| now.reading_c = Some(300.0),
        |now| now.reading_c = None,
        |now| now.pressure_pa = Some(69_999),
        |now| now.pressure_pa = None,
    ];
    for (case, spoil) in missing.into_iter().enumerate() {
        let mut bench = SequencerBench::new(240.0, &[step(ramp(250, 60)), OPEN, SHUT]);
        bench.until(1, |_| {});
        for _ in 0..3000 {
            assert!(!bench.tick(spoil).open_closure, "case {case}");
            assert_eq!(bench.step(), Some(1), "case {case}");
        }
        assert!(bench.tick(|now| now.pressure_pa = Some(70_000)).open_closure, "case {case}");
    }
}

/// It is reported after two minutes, and the interlock trips.
#[test]
fn a_lift_that_does_not_move_is_overdue() {
    for steps in [[step(ramp(250, 60)), OPEN], [step(ramp(250, 60)), SHUT]] {
        let mut bench = SequencerBench::new(240.0, &steps);
        bench.until(1, |_| {});
        for _ in 0..1200 {
            bench.tick(|now| (now.shut, now.open) = (false, false));
            assert!(!bench.plan.closure_overdue);
        }
        assert!(bench.tick(|now| (now.shut, now.open) = (false, false)).closure_overdue);
    }
}

/// The dwell time starts when the contacts prove the position.
#[test]
fn the_dwell_time_starts_on_arrival() {
    let mut bench = SequencerBench::new(240.0, &[step(ramp(250, 60)), SHUT, step(soak(60))]);
    bench.until(1, |_| {});
    for _ in 0..100 {
        bench.tick(|now| now.shut = false);
        assert_eq!(bench.step(), Some(1));
    }
    let arrived = bench.tick;
    bench.until(2, |_| {});
    assert_eq!(bench.tick - arrived, 20);
}

/// A start that finds the lift open shuts it before it heats; at the end it stays where it was.
#[test]
fn shuts_before_heat_and_stays_where_it_was_at_the_end() {
    let mut bench = SequencerBench::new(240.0, &[step(ramp(250, 60)), OPEN]);
    for tick in 0..20 {
        let plan = bench.tick(stands_open);
        assert!(
            plan.firing && plan.setpoint.is_none() && !plan.open_closure,
            "tick {tick}: {plan:?}"
        );
    }
    for _ in 0..2000 {
        bench.tick(|_| {});
    }
    assert_eq!(bench.ended(), Some(Ending::Completed));
    assert!(bench.plan.open_closure && !bench.plan.firing, "it stays open: {:?}", bench.plan);
    // A start with a lift that does not move is overdue as well: after two minutes, and not before.
    bench.tick = 0;
    for tick in 0..1300 {
        let plan = bench.tick(stands_open);
        assert!(
            plan.setpoint.is_none() && plan.closure_overdue == (tick > 1200),
            "tick {tick}"
        );
        assert_eq!(plan.waiting, Some(Wait::Contacts));
    }
}

/// A step that does not heat leaves an open lift open; the first that does shuts it.
#[test]
fn an_open_lift_stays_open_until_there_is_heat() {
    let cool = step(Action::Cool { below_mc: 200_000 });
    let mut bench = SequencerBench::new(240.0, &[cool, step(ramp(250, 60))]);
    for _ in 0..100 {
        let plan = bench.tick(stands_open);
        assert!(plan.open_closure && plan.firing && plan.setpoint.is_none(), "{plan:?}");
    }
    bench.reading_c = 199.0;
    bench.until(1, stands_open);
    for _ in 0..100 {
        let plan = bench.tick(stands_open);
        assert!(!plan.open_closure && plan.setpoint.is_none(), "{plan:?}");
    }
    assert!(bench.tick(|_| {}).setpoint.is_none());
    assert!(bench.tick(|_| {}).setpoint.is_some(), "shut, and no heat");
}

/// Before the first firing it stays where it is found, also while it passes between contacts.
#[test]
fn an_idle_lift_stays_where_it_was_found() {
    let mut bench = SequencerBench::new(240.0, &[OPEN]);
    bench.tick = 1;
    assert!(bench.tick(stands_open).open_closure);
    assert!(bench.tick(|now| (now.shut, now.open) = (false, false)).open_closure);
    assert!(!bench.tick(|now| (now.shut, now.open) = (true, false)).open_closure);
    assert!(!bench.tick(|now| (now.shut, now.open) = (false, false)).open_closure);
}
