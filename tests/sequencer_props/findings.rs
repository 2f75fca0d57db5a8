//! `verify` says everything that is wrong, not only the first.

use saggar_core::programme::{Action, FINDINGS_MAX, Fault, Finding, Step, VacuumStage, verify};

use crate::support::{furnace, image, ramp, soak, step, vacuum};

fn faults(steps: &[Step]) -> Vec<Finding> {
    verify(&image(steps), &furnace()).list.iter().copied().collect()
}

fn at(step: u8, fault: Fault) -> Finding {
    Finding { step: Some(step), fault }
}

#[test]
fn a_good_programme_has_none() {
    let steps = [
        step(ramp(400, 60)),
        Step { action: ramp(1120, 60), vacuum: Some(vacuum(600)) },
        step(soak(60)),
        step(Action::Ask { timeout_ms: 1000, go_on: true }),
        step(Action::Cool { below_mc: 200_000 }),
        step(Action::Move { open: true, stay_ms: 0 }),
        step(Action::Move { open: false, stay_ms: 0 }),
        step(ramp(300, 60)),
        step(soak(60)),
    ];
    assert_eq!(faults(&steps), []);
}

/// One programme with every fault that a step can have: each is told, once, where it is.
#[test]
fn every_fault_is_found() {
    let bad_stage = VacuumStage { from_mc: 0, to_pa: 2999, within_ms: 0 };
    let steps = [
        step(soak(60)),
        step(Action::Ramp { to_mc: 1_180_001, rate_mk_per_min: 150_001 }),
        step(Action::Ramp { to_mc: 19_999, rate_mk_per_min: 0 }),
        step(Action::Soak { for_ms: 0, band_mk: 50_001, patience_ms: 0 }),
        step(Action::Cool { below_mc: 0 }),
        Step { action: Action::Move { open: true, stay_ms: 0 }, vacuum: Some(bad_stage) },
        step(Action::Ask { timeout_ms: 0, go_on: false }),
        step(Action::Soak { for_ms: u32::MAX, band_mk: 0, patience_ms: 1 }),
    ];
    let max_mk_per_min = 150_000;
    let expected = [
        at(0, Fault::NothingToHold),
        at(1, Fault::TooHot { to_mc: 1_180_001, max_mc: 1_180_000 }),
        at(1, Fault::TooFast { rate_mk_per_min: 150_001, max_mk_per_min }),
        at(2, Fault::TooCold { to_mc: 19_999 }),
        at(2, Fault::NoRate),
        at(3, Fault::NoTime),
        at(3, Fault::BadBand { band_mk: 50_001 }),
        at(4, Fault::TooCold { to_mc: 0 }),
        at(5, Fault::BadPressure { to_pa: 2999, lowest_pa: 3000 }),
        at(5, Fault::NoTime),
        at(5, Fault::OpenUnderVacuum),
        at(6, Fault::HeatWhileOpen),
        at(6, Fault::NothingToHold),
        at(6, Fault::NoTime),
        at(7, Fault::HeatWhileOpen),
        at(7, Fault::NothingToHold),
        at(7, Fault::BadBand { band_mk: 0 }),
    ];
    let found = faults(&steps);
    let (whole, inside): (Vec<_>, Vec<_>) = found.iter().partition(|f| f.step.is_none());
    assert_eq!(inside, expected);
    assert!(matches!(whole.as_slice(), [Finding { fault: Fault::TooLong { .. }, .. }]));
}

#[test]
fn faults_of_the_whole() {
    assert_eq!(faults(&[]), [Finding { step: None, fault: Fault::Empty }]);
    let mut without_pump = furnace();
    without_pump.vacuum = None;
    let steps = [Step { action: ramp(900, 30), vacuum: Some(vacuum(600)) }];
    let found = verify(&image(&steps), &without_pump);
    assert_eq!(found.list.as_slice(), [at(0, Fault::NoPump)]);
}

/// A chamber that stands open is not pumped, whatever the step does.
#[test]
fn an_open_chamber_takes_no_vacuum() {
    let stage = Some(vacuum(0));
    let cool = Action::Cool { below_mc: 30_000 };
    let steps = [
        step(ramp(250, 60)),
        Step { action: cool, vacuum: stage },
        step(Action::Move { open: true, stay_ms: 0 }),
        Step { action: cool, vacuum: stage },
        step(Action::Move { open: false, stay_ms: 0 }),
        Step { action: ramp(250, 60), vacuum: stage },
    ];
    assert_eq!(faults(&steps), [at(3, Fault::OpenUnderVacuum)]);
}

/// A stage that begins hotter than any step under it would pass for one that was reached. It is
/// told once, where it begins.
#[test]
fn a_stage_that_never_begins_is_found() {
    let under = |action, from_c| Step { action, vacuum: Some(vacuum(from_c)) };
    let steps =
        |from_c| [step(ramp(600, 60)), under(ramp(900, 60), from_c), under(soak(60), from_c)];
    assert_eq!(faults(&steps(900)), []);
    let never = Fault::NeverDrawn { from_mc: 901_000, highest_mc: 900_000 };
    assert_eq!(faults(&steps(901)), [at(1, never)]);
    // The furnace is there already.
    assert_eq!(faults(&[step(ramp(900, 60)), under(soak(60), 900)]), []);
}

/// More than there is room for: the rest is counted.
#[test]
fn findings_beyond_the_room_are_counted() {
    let steps = [step(Action::Ramp { to_mc: i32::MAX, rate_mk_per_min: 0 }); 40];
    let found = verify(&image(&steps), &furnace());
    assert_eq!(found.list.len(), FINDINGS_MAX);
    assert_eq!(usize::from(found.dropped), 2 * 40 - FINDINGS_MAX);
}
