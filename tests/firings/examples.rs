//! The example schedules of the book: five that must pass, one that must fail, each for the
//! physical reason.

use saggar_core::programme::Action;
use saggar_plant::verdict::{Outcome, Verdict};

use super::{How, Is, docs, example, fire, on};

#[track_caller]
fn verdict(name: &str) -> Verdict {
    fire(&example(name), &How::default()).verdict
}

#[track_caller]
fn passes_on(verdict: &Verdict, subjects: &[Is]) {
    for is in subjects {
        let finding = on(verdict, *is);
        assert_eq!(finding.outcome, Outcome::Pass, "{finding:?}");
    }
    assert!(verdict.passed, "{:#?}", verdict.findings);
}

const INFILTRATION: [Is; 5] =
    [is!(Drying), is!(Boiling), is!(Infiltration), is!(CoatBudget), is!(Stress)];

#[test]
fn the_cleaning_fire_cleans() {
    let verdict = verdict("clean-alumina");
    passes_on(&verdict, &[is!(Drying), is!(BurnOff), is!(Stress)]);
    assert!(verdict.find(is!(Infiltration)).is_none(), "nothing to infiltrate");
}

#[test]
fn alumina_is_infiltrated() {
    passes_on(&verdict("infiltrate-alumina"), &INFILTRATION);
}

#[test]
fn spinel_is_infiltrated_under_vacuum() {
    let verdict = verdict("infiltrate-spinel-vacuum");
    passes_on(&verdict, &INFILTRATION);
    let gas = on(&verdict, is!(TrappedGas));
    assert!(gas.measured < 0.01, "vacuum leaves little gas: {}", gas.measured);
}

#[test]
fn the_toughened_body_is_infiltrated() {
    passes_on(&verdict("infiltrate-zirconia-toughened"), &INFILTRATION);
}

#[test]
fn the_melt_back_fire_smooths_the_surface() {
    passes_on(&verdict("melt-back"), &[is!(MeltBack), is!(Stress)]);
}

#[test]
fn too_short_a_soak_fails_because_the_front_does_not_get_through() {
    let verdict = verdict("infiltrate-alumina-too-short");
    assert!(!verdict.passed);
    let front = on(&verdict, is!(Infiltration));
    let failed = verdict.findings.iter().filter(|finding| finding.outcome == Outcome::Fail);
    let failed = failed.map(|finding| finding.subject.title()).collect::<Vec<_>>();
    assert_eq!(failed, [front.subject.title()], "everything else of it is in order");
    assert!(front.measured < 0.5e-3, "the wall is 0.5 mm, the front got {}", front.measured);
}

/// A hold asks the operator about a condition of the work, so silence must not count as a yes.
#[test]
fn no_hold_of_an_example_goes_on_unanswered() {
    let mut holds = 0;
    for entry in std::fs::read_dir(docs().join("schedules")).expect("the examples") {
        let path = entry.expect("a file").path();
        let name = path.file_stem().and_then(|stem| stem.to_str()).expect("a name");
        for step in example(name).image.steps() {
            if let Action::Hold { continue_on_timeout, .. } = step.action {
                holds += 1;
                assert!(!continue_on_timeout, "{name}: an unanswered hold must end the firing");
            }
        }
    }
    assert!(holds > 0, "no example has a hold: this test checks nothing");
}
