//! What only hardware can cut: pairs of faults with which software cannot keep an invariant, the measure of
//! docs/safety.md and docs/retrofit.md that must, and whether software still raises the alarm.

use saggar_bench::observer::invariants::Invariant::{
    self, ChamberBound, OpenChamberIsOff, ValveOrder,
};
use saggar_plant::faults::FaultKind::{self, *};

use super::case::CaseOutcome;
use super::gap;

/// Pairs of faults that may break the same invariants for the same reason.
#[derive(Clone, Copy, Debug)]
pub(super) struct HardwareOnly {
    /// The pairs, in either order.
    pub pairs: &'static [[FaultKind; 2]],
    /// The invariants that may break.
    invariants: &'static [Invariant],
    /// Whether software must have raised the alarm, or refused the start, all the same.
    alarms: bool,
    /// The hardware that must act, and why software cannot.
    pub measure: &'static str,
}

/// What is found in a firing that did not end.
pub(super) const ENDLESS: &str = "the firing did not end";

/// All of them.
pub(super) const LIST: [HardwareOnly; 4] = [
    HardwareOnly {
        pairs: &[[ContactorWelded, SwitchStuck], [ContactorWelded, SwitchLeaks]],
        invariants: &[ChamberBound, OpenChamberIsOff, ValveOrder],
        alarms: true,
        measure: "both switches of the heater have failed closed: the cut-out, and the switch of the \
                  open chamber, open the contactor K2",
    },
    HardwareOnly {
        pairs: &[[SwitchStuck, ClosureOpened], [SwitchLeaks, ClosureOpened]],
        invariants: &[OpenChamberIsOff],
        alarms: true,
        measure: "current flows until the contactor K1 has opened: the switch of the open chamber \
                  opens the contactor K2 at once",
    },
    HardwareOnly {
        pairs: &[[ShutStuck, ClosureOpened]],
        invariants: &[OpenChamberIsOff, ChamberBound, ValveOrder],
        alarms: false,
        measure: "nothing shows that the chamber is open: the switch of the open chamber opens the \
                  contactor K2",
    },
    HardwareOnly {
        pairs: &[
            [LimitOffset, ControlOffset],
            [LimitDrift, ControlDrift],
            [LimitDetached, ControlDetached],
            [LimitLagging, ControlLagging],
            [LimitGain, ControlDetached],
            [LimitLagging, ControlDetached],
        ],
        invariants: &[ChamberBound, ValveOrder],
        alarms: false,
        measure: "both channels are wrong alike: the cut-out has a sensor of its own",
    },
];

/// The hardware that must act on a mode of failure which software does not always see.
const MEASURES: [(&[FaultKind], &str); 2] = [
    (
        &[
            ControlDrift,
            ControlGain,
            ControlOffset,
            ControlDetached,
            ControlLagging,
            ControlFrozen,
            ControlNoisy,
            LimitDrift,
            LimitGain,
            LimitOffset,
            LimitDetached,
            LimitLagging,
            LimitFrozen,
            LimitNoisy,
        ],
        "the cut-out, which has a sensor of its own",
    ),
    (&[ShutStuck, ClosureOpened], "the switch of the open chamber"),
];

/// The hardware that must act on this mode of failure; `None` if the pages name none.
pub(super) fn measure_for(mode: FaultKind) -> Option<&'static str> {
    MEASURES.iter().find(|(modes, _)| modes.contains(&mode)).map(|(_, measure)| *measure)
}

impl HardwareOnly {
    /// The pair of it that is among these faults.
    fn pair_among(&self, kinds: &[FaultKind]) -> Option<[FaultKind; 2]> {
        self.pairs.iter().find(|pair| pair.iter().all(|kind| kinds.contains(kind))).copied()
    }

    /// In a sentence, for one of its pairs.
    pub(super) fn sentence(&self, [one, other]: [FaultKind; 2]) -> String {
        format!("{} with {}: {}", one.name(), other.name(), self.measure)
    }
}

/// The sentences of the list that excuse something in a firing with these faults, and what nothing excuses.
pub(super) fn judge(kinds: &[FaultKind], outcome: &CaseOutcome) -> (Vec<String>, Vec<String>) {
    let (mut excused, mut findings) = (Vec::new(), Vec::new());
    let has_alarm = outcome.trip.is_some() || outcome.not_started.is_some();
    for violation in &outcome.violations {
        if gap::is_known(kinds, violation, &outcome.measured) {
            excused.push(gap::sentence(violation));
            continue;
        }
        let listed = LIST.iter().filter(|one| one.invariants.contains(&violation.invariant));
        let mut listed = listed.filter_map(|one| Some((one, one.pair_among(kinds)?)));
        match listed.next() {
            None => findings.push(violation.to_string()),
            Some((listed, pair)) => {
                excused.push(listed.sentence(pair));
                if listed.alarms && !has_alarm {
                    findings.push(format!("{violation}, and no alarm"));
                }
            }
        }
    }
    if outcome.ending.is_none() && outcome.not_started.is_none() {
        findings.push(ENDLESS.to_owned());
    }
    (excused, findings)
}

#[cfg(test)]
mod tests {
    use saggar_bench::observer::invariants::{InvariantViolation, Measured};
    use saggar_core::interlock::Cause;
    use saggar_core::sequencer::Ending;

    use super::*;

    fn outcome(invariant: Invariant, trip: Option<Cause>) -> CaseOutcome {
        CaseOutcome {
            ending: Some(Ending::Completed),
            not_started: None,
            trip: trip.map(|cause| (cause, 1.0)),
            exposed_s: 0.0,
            violations: vec![InvariantViolation { invariant, at_s: 1.0, what: "hot".into() }],
            measured: Measured {
                above_asked_k: (0.0, 0.0),
                muffle_c: 0.0,
                vented_c: 0.0,
                trip: None,
            },
            events: Vec::new(),
        }
    }

    #[test]
    fn only_listed_pairs_are_excused_and_only_with_their_alarm() {
        let welded = [SwitchStuck, ContactorWelded];
        let tripped = outcome(ChamberBound, Some(Cause::HeaterStuckOn));
        let (excused, findings) = judge(&welded, &tripped);
        assert!(excused[0].contains("cut-out") && findings.is_empty(), "{findings:?}");
        // Without the alarm, for another invariant, or with another fault instead, nothing excuses it.
        let silent = outcome(ChamberBound, None);
        assert_eq!(judge(&welded, &silent).1, ["I3 at 1.0 s: hot, and no alarm"]);
        let unproven = outcome(Invariant::HeatOnProof, Some(Cause::HeaterStuckOn));
        assert_eq!(judge(&welded, &unproven).1, ["I1 at 1.0 s: hot"]);
        assert_eq!(judge(&[SwitchStuck, PumpDead], &tripped).1, ["I3 at 1.0 s: hot"]);
        assert_eq!(judge(&[SwitchStuck], &tripped).1, ["I3 at 1.0 s: hot"]);
    }
}
