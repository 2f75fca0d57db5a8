//! One firing with its faults: how it went, and whether that is right.

use saggar_bench::World;
use saggar_bench::observer::invariants::{InvariantViolation, Measured};
use saggar_core::events::Event;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::Fault;
use saggar_verdict::NotStarted;

use super::expectation::{Expectation, Exposure};
use super::reference::CaseBench;
use super::watch::CaseWatch;

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
    pub violations: Vec<InvariantViolation>,
    /// What was measured.
    pub measured: Measured,
    /// Its events, in time since the start button.
    pub events: Vec<Event>,
}

/// What was wrong with the outcome of a case.
#[derive(Clone, Debug, PartialEq)]
pub enum CaseFinding {
    /// An invariant did not hold.
    Violated(InvariantViolation),
    /// It tripped for a cause that does not fit the fault.
    WrongCause(Cause),
    /// It tripped too late: time of exposure (s), and the bound (s).
    Late(f64, f64),
    /// It did not trip although the fault could be seen for longer than the bound: both (s).
    Missed(f64, f64),
    /// The firing neither ended nor began.
    Endless,
}

impl std::fmt::Display for CaseFinding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Violated(violation) => write!(f, "{violation}"),
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
pub(super) fn fire(bench: &CaseBench, faults: Vec<Fault>, exposure: Exposure) -> CaseOutcome {
    let mut bench = bench.fork(faults);
    bench.observer.1.count(exposure);
    run_out(&mut bench);
    CaseOutcome::of(bench)
}

/// Runs a bench to the end of its firing.
pub(super) fn run_out(bench: &mut CaseBench) {
    while matches!(bench.step(), Ok(true)) {}
}

impl CaseOutcome {
    /// The outcome of a firing that has come to its end.
    pub(super) fn of(bench: CaseBench) -> Self {
        let (world, _, (_, watch)) = bench.into_parts();
        Self::in_world(&world, watch)
    }

    /// The outcome of a firing in this world.
    pub(super) fn in_world(world: &World, watch: CaseWatch) -> Self {
        let measured = *watch.invariants.measured();
        Self {
            ending: world.ending(),
            not_started: world.not_started(),
            trip: measured.trip.map(|(cause, _)| (cause, watch.faulty_s())),
            exposed_s: watch.exposed_s(),
            violations: watch.invariants.violations().to_vec(),
            measured,
            events: watch.events,
        }
    }

    /// What is wrong with it under this expectation; empty if it is right.
    pub fn findings(&self, expectation: &Expectation) -> Vec<CaseFinding> {
        let mut found: Vec<_> =
            self.violations.iter().cloned().map(CaseFinding::Violated).collect();
        if self.ending.is_none() && self.not_started.is_none() {
            found.push(CaseFinding::Endless);
        }
        if let Some((cause, _)) = self.trip
            && !expectation.causes().contains(&cause)
        {
            found.push(CaseFinding::WrongCause(cause));
        }
        if let Expectation::Trips { within_s, .. } = *expectation
            && self.exposed_s > within_s + 0.01
        {
            found.push(match self.trip {
                Some(_) => CaseFinding::Late(self.exposed_s, within_s),
                None => CaseFinding::Missed(self.exposed_s, within_s),
            });
        }
        found
    }
}
