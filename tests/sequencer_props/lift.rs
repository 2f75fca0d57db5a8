//! The lift: shut before heat, opened only on proof, and left alone at the end.

use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Ending, SequencerInputs};

use super::Walk;
use crate::support::{ramp, soak, step};

const OPEN: Step = step(Action::MoveClosure { open: true, dwell_ms: 0 });
const SHUT: Step = step(Action::MoveClosure { open: false, dwell_ms: 2000 });

/// Nobody has moved the lift yet, and it stands open.
fn stands_open(now: &mut SequencerInputs) {
    (now.shut, now.open) = (false, true);
}

/// It opens on two proofs, and waits for them as long as it takes.
#[test]
fn opens_only_when_cool_and_full_of_air() {
    let missing: [fn(&mut SequencerInputs); 4] = [
        |now| now.reading_c = Some(300.0),
        |now| now.reading_c = None,
        |now| now.pressure_pa = Some(69_999),
        |now| now.pressure_pa = None,
    ];
    for (case, spoil) in missing.into_iter().enumerate() {
        let mut walk = Walk::new(240.0, &[step(ramp(250, 60)), OPEN, SHUT]);
        walk.until(1, |_| {});
        for _ in 0..3000 {
            assert!(!walk.tick(spoil).open_closure, "case {case}");
            assert_eq!(walk.step(), Some(1), "case {case}");
        }
        assert!(walk.tick(|now| now.pressure_pa = Some(70_000)).open_closure, "case {case}");
    }
}

/// Two minutes are enough to get there.
#[test]
fn a_lift_that_does_not_move_ends_the_firing() {
    for steps in [[step(ramp(250, 60)), OPEN], [step(ramp(250, 60)), SHUT]] {
        let mut walk = Walk::new(240.0, &steps);
        walk.until(1, |_| {});
        for _ in 0..1200 {
            walk.tick(|now| (now.shut, now.open) = (false, false));
            assert_eq!(walk.ended(), None);
        }
        walk.tick(|now| (now.shut, now.open) = (false, false));
        assert_eq!(walk.ended(), Some(Ending::ClosureStuck));
    }
}

/// A stay counts from where the contacts prove it.
#[test]
fn a_stay_begins_on_arrival() {
    let mut walk = Walk::new(240.0, &[step(ramp(250, 60)), SHUT, step(soak(60))]);
    walk.until(1, |_| {});
    for _ in 0..100 {
        walk.tick(|now| now.shut = false);
        assert_eq!(walk.step(), Some(1));
    }
    let arrived = walk.tick;
    walk.until(2, |_| {});
    assert_eq!(walk.tick - arrived, 20);
}

/// A start that finds the lift open shuts it before it heats; at the end it stays where it was.
#[test]
fn shuts_before_heat_and_stays_where_it_was_at_the_end() {
    let mut walk = Walk::new(240.0, &[step(ramp(250, 60)), OPEN]);
    for tick in 0..20 {
        let plan = walk.tick(stands_open);
        assert!(
            plan.firing && plan.setpoint.is_none() && !plan.open_closure,
            "tick {tick}: {plan:?}"
        );
    }
    for _ in 0..2000 {
        walk.tick(|_| {});
    }
    assert_eq!(walk.ended(), Some(Ending::Completed));
    assert!(walk.plan.open_closure && !walk.plan.firing, "it stays open: {:?}", walk.plan);
    // A start with a lift that does not move gives up.
    walk.tick = 0;
    for _ in 0..1300 {
        assert!(walk.tick(stands_open).setpoint.is_none());
    }
    assert_eq!(walk.ended(), Some(Ending::ClosureStuck));
}

/// A step that does not heat leaves an open lift open; the first that does shuts it.
#[test]
fn an_open_lift_stays_open_until_there_is_heat() {
    let cool = step(Action::Cool { below_mc: 200_000 });
    let mut walk = Walk::new(240.0, &[cool, step(ramp(250, 60))]);
    for _ in 0..100 {
        let plan = walk.tick(stands_open);
        assert!(plan.open_closure && plan.firing && plan.setpoint.is_none(), "{plan:?}");
    }
    walk.reading_c = 199.0;
    walk.until(1, stands_open);
    for _ in 0..100 {
        let plan = walk.tick(stands_open);
        assert!(!plan.open_closure && plan.setpoint.is_none(), "{plan:?}");
    }
    assert!(walk.tick(|_| {}).setpoint.is_none());
    assert!(walk.tick(|_| {}).setpoint.is_some(), "shut, and no heat");
}

/// Before the first firing it stays where it is found, also while it passes between contacts.
#[test]
fn at_rest_it_stays_where_it_is_found() {
    let mut walk = Walk::new(240.0, &[OPEN]);
    walk.tick = 1;
    assert!(walk.tick(stands_open).open_closure);
    assert!(walk.tick(|now| (now.shut, now.open) = (false, false)).open_closure);
    assert!(!walk.tick(|now| (now.shut, now.open) = (true, false)).open_closure);
    assert!(!walk.tick(|now| (now.shut, now.open) = (false, false)).open_closure);
}
