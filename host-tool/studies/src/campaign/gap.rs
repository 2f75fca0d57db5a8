//! A known gap of the interlocks: a control channel that reads too little, below 500 °C and after an opening;
//! and a power table that was wrong before its checksum was made.
//!
//! The limit channel sees so much of an element that is hundreds of kelvin hotter than the muffle that some
//! excess stays hidden until the trip, and the heat in the element flows on. The muffle then gets farther above
//! what was asked for than the bound allows, but not beyond [`EXCESS_MAX_K`], and trips. Such a firing is no finding,
//! so that a worse one shows; its mode counts as one that software does not detect.

use saggar_bench::observer::invariants::{Invariant, InvariantViolation, Measured};
use saggar_plant::faults::FaultKind::{self, *};

/// How far the muffle may be above what was asked for in the gap (K). The worst of 38,300 firings with a
/// single fault has 35.9 K; with three faults, two of which make the channels read too little, one of 1,000 drawn
/// firings has 45.4 K.
const EXCESS_MAX_K: f64 = 46.0;

/// The faults of the gap.
const KINDS: [FaultKind; 6] =
    [ControlDetached, ControlDrift, ControlGain, ControlLagging, ControlOffset, MemoryTable];

/// Whether a violation in a firing with these faults is the known gap.
pub(super) fn is_known(
    kinds: &[FaultKind],
    violation: &InvariantViolation,
    measured: &Measured,
) -> bool {
    violation.invariant == Invariant::ChamberBound
        && kinds.iter().any(|kind| KINDS.contains(kind))
        && measured.above_asked_k.0 <= EXCESS_MAX_K
        && measured.trip.is_some()
}

/// What a report says of a violation in the gap.
pub(super) fn sentence(violation: &InvariantViolation) -> String {
    format!("known gap: {violation}")
}

#[cfg(test)]
mod tests {
    use saggar_core::interlock::Cause;

    use super::*;

    #[test]
    fn the_gap_has_its_faults_and_its_bound() {
        let violation =
            |invariant| InvariantViolation { invariant, at_s: 1.0, what: String::new() };
        let measured = |above_k| Measured {
            above_asked_k: (above_k, 0.0),
            muffle_c: 0.0,
            vented_c: 0.0,
            trip: Some((Cause::ChannelsDisagree, 1.0)),
        };
        let bound = violation(Invariant::ChamberBound);
        assert!(is_known(&[LimitOpen, ControlGain], &bound, &measured(36.2)));
        assert!(!is_known(&[ControlGain], &bound, &measured(46.1)), "a worse one shows");
        assert!(!is_known(&[LimitDrift], &bound, &measured(30.0)));
        let silent = Measured { trip: None, ..measured(36.2) };
        assert!(!is_known(&[ControlGain], &bound, &silent), "it must trip");
        let valves = violation(Invariant::ValveOrder);
        assert!(!is_known(&[ControlGain], &valves, &measured(30.0)));
    }
}
