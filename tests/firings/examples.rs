//! The example schedules of the book: five that must pass, one that must fail, each for the
//! physical reason.

use saggar_plant::verdict::{Outcome, Subject, Verdict};

use super::{How, example, fire};

#[track_caller]
fn verdict(name: &str) -> Verdict {
    fire(&example(name), &How::default()).verdict
}

#[track_caller]
fn passes_on(verdict: &Verdict, subjects: &[Subject]) {
    for subject in subjects {
        let finding = verdict.on(*subject).unwrap_or_else(|| panic!("nothing on {subject:?}"));
        assert_eq!(finding.outcome, Outcome::Pass, "{finding:?}");
    }
    assert!(verdict.passed, "{:#?}", verdict.findings);
}

const INFILTRATION: [Subject; 5] =
    [Subject::Dry, Subject::Boiled, Subject::Infiltrated, Subject::CoatBudget, Subject::Stress];

#[test]
fn the_cleaning_fire_cleans() {
    let verdict = verdict("clean-alumina");
    passes_on(&verdict, &[Subject::Dry, Subject::BurntOff, Subject::Stress]);
    assert!(verdict.on(Subject::Infiltrated).is_none(), "nothing to infiltrate");
}

#[test]
fn alumina_is_infiltrated() {
    passes_on(&verdict("infiltrate-alumina"), &INFILTRATION);
}

#[test]
fn spinel_is_infiltrated_under_vacuum() {
    let verdict = verdict("infiltrate-spinel-vacuum");
    passes_on(&verdict, &INFILTRATION);
    let gas = verdict.on(Subject::TrappedGas).unwrap();
    assert!(gas.measured < 0.01, "vacuum leaves little gas: {}", gas.measured);
}

#[test]
fn the_toughened_body_is_infiltrated() {
    passes_on(&verdict("infiltrate-zirconia-toughened"), &INFILTRATION);
}

#[test]
fn the_glass_control_fire_melts_the_surface_back() {
    passes_on(&verdict("glass-control"), &[Subject::MeltBack, Subject::Stress]);
}

#[test]
fn too_short_a_soak_fails_because_the_front_does_not_get_through() {
    let verdict = verdict("infiltrate-alumina-too-short");
    assert!(!verdict.passed);
    let failed: Vec<Subject> = verdict
        .findings
        .iter()
        .filter(|finding| finding.outcome == Outcome::Fail)
        .map(|finding| finding.subject)
        .collect();
    assert_eq!(failed, [Subject::Infiltrated], "everything else of it is in order");
    let front = verdict.on(Subject::Infiltrated).unwrap();
    assert!(front.measured < 0.5e-3, "the wall is 0.5 mm, the front got {}", front.measured);
}
