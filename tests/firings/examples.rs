//! The example schedules: five must pass and one must fail, each for its physical reason.

use saggar_core::programme::Action;
use saggar_verdict::{Outcome, Verdict};

use super::{FiringOptions, Is, docs, example, finding, fire};

#[track_caller]
fn verdict(name: &str) -> Verdict {
    fire(&example(name), &FiringOptions::default()).verdict
}

#[track_caller]
fn assert_passes(verdict: &Verdict, subjects: &[Is]) {
    for is in subjects {
        let finding = finding(verdict, *is);
        assert_eq!(finding.outcome, Outcome::Pass, "{finding:?}");
    }
    assert!(verdict.passed(), "{:#?}", verdict.findings);
}

const INFILTRATION: [Is; 6] =
    [is!(Drying), is!(Boiling), is!(Infiltration), is!(CoatBudget), is!(Surplus), is!(Stress)];

#[test]
fn the_cleaning_fire_burns_the_lubricant_off() {
    let verdict = verdict("clean-alumina");
    assert_passes(&verdict, &[is!(Drying), is!(BurnOff), is!(Stress)]);
    assert!(verdict.find(is!(Infiltration)).is_none(), "nothing to infiltrate");
}

#[test]
fn alumina_is_infiltrated() {
    assert_passes(&verdict("infiltrate-alumina"), &INFILTRATION);
}

#[test]
fn spinel_is_infiltrated_under_vacuum() {
    let verdict = verdict("infiltrate-spinel-vacuum");
    assert_passes(&verdict, &INFILTRATION);
    let gas = finding(&verdict, is!(TrappedGas));
    assert!(gas.measured < 0.01, "vacuum leaves little gas: {}", gas.measured);
}

#[test]
fn the_toughened_body_is_infiltrated() {
    assert_passes(&verdict("infiltrate-zirconia-toughened"), &INFILTRATION);
}

#[test]
fn the_melt_back_fire_smooths_the_surface() {
    assert_passes(&verdict("melt-back"), &[is!(MeltBack), is!(Stress)]);
}

#[test]
fn too_short_a_soak_fails_because_the_front_does_not_get_through() {
    let verdict = verdict("infiltrate-alumina-too-short");
    assert!(!verdict.passed());
    let front = finding(&verdict, is!(Infiltration));
    let failed = verdict.findings.iter().filter(|finding| finding.outcome == Outcome::Fail);
    let failed = failed.map(|finding| finding.subject.title()).collect::<Vec<_>>();
    assert_eq!(failed, [front.subject.title()], "only the front fails");
    assert!(
        front.measured < 0.5e-3,
        "the wall is 0.5 mm, the front reached {}",
        front.measured
    );
}

/// A hold asks the operator about a condition of the work, so silence must not count as a yes.
#[test]
fn every_hold_of_an_example_ends_the_firing_if_unanswered() {
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
