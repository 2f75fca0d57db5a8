//! What only hardware can cut: pairs of faults with which software cannot keep an invariant, the measure of
//! docs/safety.md that must, and whether software still raises the alarm.

use saggar_bench::observer::invariants::Invariant;
use saggar_plant::faults::FaultKind;

use super::case::CaseOutcome;

/// A pair of faults that may break an invariant.
#[derive(Clone, Copy, Debug)]
pub(super) struct HardwareOnly {
    /// One of the two is one of these.
    one: &'static [FaultKind],
    /// And the other one of these.
    other: &'static [FaultKind],
    /// The invariants that may break.
    invariants: &'static [Invariant],
    /// Whether software must have raised the alarm, or refused the start, all the same.
    alarms: bool,
    /// The hardware that must act, and why software cannot.
    measure: &'static str,
}

/// The pairs.
pub(super) const LIST: [HardwareOnly; 0] = [];

impl HardwareOnly {
    /// In a sentence.
    pub(super) fn sentence(&self) -> String {
        let names = |kinds: &[FaultKind]| {
            kinds.iter().map(|kind| kind.name()).collect::<Vec<_>>().join(" or ")
        };
        format!("{} with {}: {}", names(self.one), names(self.other), self.measure)
    }

    /// Whether it is about two of these faults.
    fn is_about(&self, kinds: &[FaultKind]) -> bool {
        let mut pairs =
            kinds.iter().flat_map(|one| kinds.iter().map(move |other| (one, other)));
        pairs.any(|(one, other)| {
            one != other && self.one.contains(one) && self.other.contains(other)
        })
    }
}

/// The sentences of the list that excuse something in a firing with these faults, and what nothing excuses.
pub(super) fn judge(kinds: &[FaultKind], outcome: &CaseOutcome) -> (Vec<String>, Vec<String>) {
    let (mut excused, mut findings) = (Vec::new(), Vec::new());
    let has_alarm = outcome.trip.is_some() || outcome.not_started.is_some();
    for violation in &outcome.violations {
        let listed = LIST.iter().find(|listed| {
            listed.is_about(kinds) && listed.invariants.contains(&violation.invariant)
        });
        match listed {
            None => findings.push(violation.to_string()),
            Some(listed) => {
                excused.push(listed.sentence());
                if listed.alarms && !has_alarm {
                    findings.push(format!("{violation}, and no alarm"));
                }
            }
        }
    }
    if outcome.ending.is_none() && outcome.not_started.is_none() {
        findings.push("the firing did not end".to_owned());
    }
    (excused, findings)
}
