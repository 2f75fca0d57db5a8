//! The verdict: the result of a firing for the work, as pass, fail or not known, with margins.
//!
//! [`assess`] compares the history of the piece and the course of the firing with the limits in
//! `limits.rs`. A [`Finding`] holds numbers in SI units and °C, and turns them into sentences.

mod advice;
mod advice_limits;
mod course;
mod course_text;
mod doubts;
mod finding;
mod glass;
mod infiltration_text;
mod late_ramp;
mod limits;
mod melt_back;
mod melt_back_text;
mod mismatch;
mod mismatch_text;
mod outer_glass;
mod purpose;
mod recorded;
mod recording;
mod rings;
mod sentence;
mod soak_advice;
mod subject;
mod summary;
mod surplus;
mod surplus_cases;
mod surplus_text;
mod treatment;
mod treatment_text;
mod uncertainty;
mod uncoated;
mod unknown;
mod wording;

pub use advice::{CoatAdvice, VacuumAdvice};
pub use advice_limits::AdviceLimits;
pub use finding::{Doubt, Finding, Outcome};
pub use late_ramp::LateRamp;
pub use outer_glass::{
    LeastSoak, MeltBackFinding, Mismatch, Surplus, SurplusAdvice, SurplusInput, ThinnerCoat,
};
pub use recorded::doubt_computed;
pub use recording::{PressureAgreement, RecordingFlaw, SensorAgreement};
pub use soak_advice::SoakAdvice;
pub use subject::{CoatLift, Subject};
pub use summary::{
    BandExcursion, EffectiveSoak, FiringSummary, Interruption, LostSoak, NotStarted,
    SoakSummary, StepStress, StressCause,
};
pub use uncertainty::{
    Distribution, UncertaintyBudget, UncertaintyComponent, UncertaintySource,
};
pub use uncoated::UncoatedFiring;
pub use unknown::{ApproachBound, Unknown};
pub use wording::{StageLabel, Wording};

use saggar_plant::piece::Piece;
use saggar_plant::spec::WorkSpec;

/// The findings of a rehearsal or a firing.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The findings; how the firing ended comes first.
    pub findings: Vec<Finding>,
}

/// The result of a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerdictResult {
    /// No finding failed, and each could be assessed.
    Pass,
    /// A finding failed.
    Fail,
    /// No finding failed, but at least one is outside of what is known.
    NotKnown,
}

impl VerdictResult {
    /// The result as a word in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pass => Outcome::Pass.word(),
            Self::Fail => Outcome::Fail.word(),
            Self::NotKnown => Outcome::NotKnown.word(),
        }
    }

    /// The result as it heads an answer.
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Pass => "PASS",
            Self::Fail => "FAIL",
            Self::NotKnown => "NOT KNOWN",
        }
    }
}

impl Verdict {
    /// The first finding whose subject matches; `None` if the verdict has none.
    pub fn find(&self, is: impl Fn(&Subject) -> bool) -> Option<&Finding> {
        self.findings.iter().find(|finding| is(&finding.subject))
    }

    /// The result. A failure outweighs what is not known; a verdict without checks is not known.
    pub fn result(&self) -> VerdictResult {
        let has = |outcome| self.findings.iter().any(|finding| finding.outcome == outcome);
        if has(Outcome::Fail) {
            VerdictResult::Fail
        } else if has(Outcome::NotKnown) || !has(Outcome::Pass) {
            VerdictResult::NotKnown
        } else {
            VerdictResult::Pass
        }
    }

    /// Whether the result is a pass.
    pub fn passed(&self) -> bool {
        self.result() == VerdictResult::Pass
    }

    /// The result in a few words, with the names of the checks that did not pass, for use after
    /// [`VerdictResult::heading`]. Notes do not count as checks.
    pub fn headline(&self) -> String {
        let titles = |outcome| -> Vec<&str> {
            let findings = self.findings.iter().filter(|f| f.outcome == outcome);
            findings.map(|finding| finding.subject.title()).collect()
        };
        let (failed, unknown) = (titles(Outcome::Fail), titles(Outcome::NotKnown));
        let checks = failed.len() + unknown.len() + titles(Outcome::Pass).len();
        let (names, what) = match self.result() {
            VerdictResult::Pass if checks == 1 => return "the only check passed".to_owned(),
            VerdictResult::Pass => return format!("all {checks} checks passed"),
            VerdictResult::Fail => (failed, "failed"),
            VerdictResult::NotKnown => (unknown, "could not be decided"),
        };
        let (count, names) = (names.len(), names.join(", "));
        match checks {
            0 => "nothing was checked".to_owned(),
            1 => format!("the only check {what}: {names}"),
            _ => format!("{count} of {checks} checks {what}: {names}"),
        }
    }
}

/// Assesses a firing of `work` from the states of its pieces, one for each ring of places, and the course
/// of the firing.
pub fn assess(work: &WorkSpec, pieces: &[Piece], firing: &FiringSummary) -> Verdict {
    let mut findings = vec![course::ending(firing)];
    findings.extend(course::interruptions(firing));
    findings.extend(rings::worst_of(
        pieces.iter().map(|piece| treatments(work, pieces, piece, firing)),
    ));
    let hottest = pieces.iter().reduce(|hottest, next| {
        if next.hottest.value > hottest.hottest.value { next } else { hottest }
    });
    findings.extend(hottest.iter().flat_map(|piece| course::course(piece, firing)));
    Verdict { findings }
}

/// What the firing did to one ring of pieces; the confidence is that for the pieces of all rings.
fn treatments(
    work: &WorkSpec,
    pieces: &[Piece],
    piece: &Piece,
    firing: &FiringSummary,
) -> Vec<Finding> {
    let mut findings = treatment::drying(work, piece, firing);
    findings.extend(treatment::burn_off(piece, firing));
    let infiltration = glass::infiltration(work, pieces, piece, firing);
    findings.extend(infiltration.into_iter().map(|found| doubts::limit(found, piece, firing)));
    findings.extend(purpose::uncoated(work, piece));
    findings.extend(surplus::surplus(work, piece));
    findings.push(treatment::stress(work, piece, firing));
    findings.extend(mismatch::mismatch(work, piece));
    findings.extend(melt_back::melt_back(work, piece, firing));
    findings
}

#[cfg(test)]
mod tests;
