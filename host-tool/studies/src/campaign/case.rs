//! One firing with its faults: how it went, and whether that is right.

use saggar_bench::observer::invariants::{Measured, Violation};
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::Fault;
use saggar_plant::verdict::NotStarted;
use saggar_schedule::firing_plan::FiringPlan;

use super::expectation::{Expectation, Exposure};
use super::reference::CaseBench;

/// How a firing with faults went.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseOutcome {
    /// How it ended.
    pub ending: Option<Ending>,
    /// Why it did not begin.
    pub not_started: Option<NotStarted>,
    /// The trip, and the time with the fault up to it (s).
    pub trip: Option<(Cause, f64)>,
    /// Time for which the fault could be seen, up to the trip (s).
    pub exposed_s: f64,
    /// The invariants that did not hold.
    pub violations: Vec<Violation>,
    /// What was measured.
    pub measured: Measured,
}

/// What was wrong with the outcome of a case.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// An invariant did not hold.
    Violated(Violation),
    /// It tripped for a cause that does not fit the fault.
    WrongCause(Cause),
    /// It tripped too late: time of exposure (s), and the bound (s).
    Late(f64, f64),
    /// It did not trip although the fault could be seen for longer than the bound: both (s).
    Missed(f64, f64),
    /// The firing neither ended nor began.
    Endless,
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Violated(violation) => {
                let Violation { invariant, at_s, what } = violation;
                write!(f, "I{} at {at_s:.1} s: {what}", invariant.number())
            }
            Self::WrongCause(cause) => write!(f, "tripped for {cause:?}, which does not fit"),
            Self::Late(exposed_s, bound_s) => {
                write!(f, "tripped after {exposed_s:.1} s of exposure, {bound_s:.1} s allowed")
            }
            Self::Missed(exposed_s, bound_s) => {
                write!(f, "no trip in {exposed_s:.1} s of exposure, {bound_s:.1} s allowed")
            }
            Self::Endless => write!(f, "the firing did not end"),
        }
    }
}

/// Fires the rest of a bench with these faults.
pub(super) fn fire(
    bench: &CaseBench,
    plan: &FiringPlan,
    faults: Vec<Fault>,
    exposure: Exposure,
) -> CaseOutcome {
    let mut bench = bench.fork(faults);
    bench.observer.1.count(exposure);
    let fired = bench.run_to_end(&plan.work);
    let watch = fired.trace;
    let measured = *watch.invariants.measured();
    CaseOutcome {
        ending: fired.ending,
        not_started: fired.not_started,
        trip: measured.trip.map(|(cause, _)| (cause, watch.faulty_s())),
        exposed_s: watch.exposed_s(),
        violations: watch.invariants.violations().to_vec(),
        measured,
    }
}

impl CaseOutcome {
    /// What is wrong with it under this expectation; empty if it is right.
    pub fn findings(&self, expectation: &Expectation) -> Vec<Finding> {
        let mut found: Vec<_> =
            self.violations.iter().cloned().map(Finding::Violated).collect();
        if self.ending.is_none() && self.not_started.is_none() {
            found.push(Finding::Endless);
        }
        if let Some((cause, _)) = self.trip
            && !expectation.causes().contains(&cause)
        {
            found.push(Finding::WrongCause(cause));
        }
        if let Expectation::Trips { within_s, .. } = *expectation
            && self.exposed_s > within_s + 0.01
        {
            found.push(match self.trip {
                Some(_) => Finding::Late(self.exposed_s, within_s),
                None => Finding::Missed(self.exposed_s, within_s),
            });
        }
        found
    }
}
