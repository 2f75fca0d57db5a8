//! `verify` reports every violation, not only the first.

use saggar_core::programme::{
    Action, Step, VIOLATIONS_MAX, VacuumStage, Violation, ViolationKind, verify,
};

use crate::support::{furnace, image, ramp, soak, step, under, vacuum};

fn faults(steps: &[Step]) -> Vec<Violation> {
    verify(&image(steps), &furnace()).list.iter().copied().collect()
}

fn at(step: u8, fault: ViolationKind) -> Violation {
    Violation { step: Some(step), kind: fault }
}

#[test]
fn a_valid_programme_has_no_violations() {
    let steps = [
        step(ramp(400, 60)),
        under(ramp(1120, 60), vacuum(600)),
        step(soak(60)),
        step(Action::Hold { timeout_ms: 1000, continue_on_timeout: true }),
        step(Action::Cool { below_mc: 200_000 }),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
        step(Action::MoveClosure { open: false, dwell_ms: 0 }),
        step(ramp(300, 60)),
        step(soak(60)),
    ];
    assert_eq!(faults(&steps), []);
}

/// A programme with every violation that a step can have: each is reported once, at its step.
#[test]
fn every_violation_is_reported_once() {
    let bad_stage = VacuumStage { from_mc: 0, to_pa: 2999, within_ms: 0 };
    let steps = [
        step(soak(60)),
        step(Action::Ramp { to_mc: 1_180_001, rate_mk_per_min: 150_001 }),
        step(Action::Ramp { to_mc: 19_999, rate_mk_per_min: 0 }),
        step(Action::Soak { duration_ms: 0, band_mk: 50_001, band_timeout_ms: 0 }),
        step(Action::Cool { below_mc: 0 }),
        under(Action::MoveClosure { open: true, dwell_ms: 0 }, bad_stage),
        step(Action::Hold { timeout_ms: 0, continue_on_timeout: false }),
        step(Action::Soak { duration_ms: u32::MAX, band_mk: 0, band_timeout_ms: 1 }),
    ];
    let max_mk_per_min = 150_000;
    let expected = [
        at(0, ViolationKind::NoSetpoint),
        at(1, ViolationKind::TooHot { to_mc: 1_180_001, max_mc: 1_180_000 }),
        at(1, ViolationKind::TooFast { rate_mk_per_min: 150_001, max_mk_per_min }),
        at(2, ViolationKind::TooCold { to_mc: 19_999 }),
        at(2, ViolationKind::ZeroRate),
        at(3, ViolationKind::ZeroDuration),
        at(3, ViolationKind::BadBand { band_mk: 50_001 }),
        at(4, ViolationKind::TooCold { to_mc: 0 }),
        at(5, ViolationKind::BadPressure { to_pa: 2999, min_pa: 3000 }),
        at(5, ViolationKind::ZeroDuration),
        at(5, ViolationKind::OpenUnderVacuum),
        at(6, ViolationKind::HeatWhileOpen),
        at(6, ViolationKind::NoSetpoint),
        at(6, ViolationKind::ZeroDuration),
        at(7, ViolationKind::HeatWhileOpen),
        at(7, ViolationKind::NoSetpoint),
        at(7, ViolationKind::BadBand { band_mk: 0 }),
    ];
    let found = faults(&steps);
    let (whole, inside): (Vec<_>, Vec<_>) = found.iter().partition(|f| f.step.is_none());
    assert_eq!(inside, expected);
    assert!(matches!(
        whole.as_slice(),
        [Violation { kind: ViolationKind::TooLong { .. }, .. }]
    ));
}

#[test]
fn violations_of_the_whole_programme() {
    assert_eq!(faults(&[]), [Violation { step: None, kind: ViolationKind::NoSteps }]);
    let mut without_pump = furnace();
    without_pump.vacuum = None;
    let steps = [under(ramp(900, 30), vacuum(600))];
    let found = verify(&image(&steps), &without_pump);
    assert_eq!(found.list.as_slice(), [at(0, ViolationKind::NoPump)]);
}

/// An open chamber is not pumped, whatever the step does.
#[test]
fn a_vacuum_stage_on_an_open_chamber_is_a_violation() {
    let stage = Some(vacuum(0));
    let cool = Action::Cool { below_mc: 30_000 };
    let steps = [
        step(ramp(250, 60)),
        Step::new(cool, stage),
        step(Action::MoveClosure { open: true, dwell_ms: 0 }),
        Step::new(cool, stage),
        step(Action::MoveClosure { open: false, dwell_ms: 0 }),
        Step::new(ramp(250, 60), stage),
    ];
    assert_eq!(faults(&steps), [at(3, ViolationKind::OpenUnderVacuum)]);
}

/// A stage that begins hotter than any step under it would pass for one that was reached. It is
/// told once, where it begins.
#[test]
fn a_vacuum_stage_that_never_starts_is_a_violation() {
    let under = |action, from_c| under(action, vacuum(from_c));
    let steps =
        |from_c| [step(ramp(600, 60)), under(ramp(900, 60), from_c), under(soak(60), from_c)];
    assert_eq!(faults(&steps(900)), []);
    let never = ViolationKind::PumpNeverStarts { from_mc: 901_000, setpoint_max_mc: 900_000 };
    assert_eq!(faults(&steps(901)), [at(1, never)]);
    // The furnace is there already.
    assert_eq!(faults(&[step(ramp(900, 60)), under(soak(60), 900)]), []);
}

/// Violations beyond the capacity of the list are only counted.
#[test]
fn violations_beyond_the_capacity_are_counted() {
    let steps = [step(Action::Ramp { to_mc: i32::MAX, rate_mk_per_min: 0 }); 40];
    let found = verify(&image(&steps), &furnace());
    assert_eq!(found.list.len(), VIOLATIONS_MAX);
    assert_eq!(usize::from(found.dropped), 2 * 40 - VIOLATIONS_MAX);
}
