//! The verdict: the result of a firing for the work, as pass or fail with margins.
//!
//! [`assess`] compares the history of the piece and the course of the firing with the limits in
//! `limits.rs`. A [`Finding`] holds numbers in SI units and °C, and turns them into sentences.

mod advice;
mod advice_limits;
mod course;
mod course_text;
mod finding;
mod glass;
mod infiltration_text;
mod late_ramp;
mod limits;
mod sentence;
mod soak_advice;
mod subject;
mod summary;
mod treatment;
mod treatment_text;
mod uncertainty;
mod wording;

pub use advice::{CoatAdvice, VacuumAdvice};
pub use advice_limits::AdviceLimits;
pub use finding::{Finding, Outcome};
pub use late_ramp::LateRamp;
pub use soak_advice::SoakAdvice;
pub use subject::{CoatLift, MeltBackFinding, Subject};
pub use summary::{
    BandExcursion, EffectiveSoak, FiringSummary, Interruption, LostSoak, NotStarted,
    SoakSummary, StepStress, StressCause,
};
pub use uncertainty::{UncertaintyBudget, UncertaintyComponent, UncertaintySource};
pub use wording::{StageLabel, Wording};

use crate::piece::Piece;
use crate::spec::WorkSpec;

/// The result of a rehearsal or a firing.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The findings; how the firing ended comes first.
    pub findings: Vec<Finding>,
    /// No finding failed.
    pub passed: bool,
}

impl Verdict {
    /// The first finding whose subject matches; `None` if the verdict has none.
    pub fn find(&self, is: impl Fn(&Subject) -> bool) -> Option<&Finding> {
        self.findings.iter().find(|finding| is(&finding.subject))
    }

    /// The result in a few words, with the names of the checks that failed, for use after PASS or
    /// FAIL. Only findings that pass or fail count as checks; notes do not.
    pub fn headline(&self) -> String {
        let titles = |outcome| {
            let findings = self.findings.iter().filter(move |f| f.outcome == outcome);
            findings.map(|finding| finding.subject.title())
        };
        let names = titles(Outcome::Fail).collect::<Vec<_>>();
        let failed = names.len();
        let names = names.join(", ");
        match (self.passed, failed, failed + titles(Outcome::Pass).count()) {
            (true, _, 1) => "the only check passed".to_owned(),
            (true, _, checks) => format!("all {checks} checks passed"),
            (false, 0, _) => "this rehearsal did not pass".to_owned(),
            (false, _, 1) => format!("the only check failed: {names}"),
            (false, _, checks) => format!("{failed} of {checks} checks failed: {names}"),
        }
    }
}

/// Assesses a firing of `work` from the state of the piece and the course of the firing.
pub fn assess(work: &WorkSpec, piece: &Piece, firing: &FiringSummary) -> Verdict {
    let mut findings = vec![course::ending(firing)];
    findings.extend(course::interruptions(firing));
    findings.extend(treatment::drying(work, piece, firing));
    findings.extend(treatment::burn_off(piece, firing));
    findings.extend(glass::infiltration(work, piece, firing));
    findings.push(treatment::stress(work, piece, firing));
    findings.extend(treatment::melt_back(work, piece, firing));
    findings.extend(course::course(piece, firing));
    let passed = findings.iter().all(|finding| finding.outcome != Outcome::Fail);
    Verdict { findings, passed }
}

#[cfg(test)]
mod tests;
