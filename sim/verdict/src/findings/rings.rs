//! The findings of several rings of pieces: each is that of the ring in which it is worst.

use std::mem::discriminant;

use super::finding::{Finding, Outcome};

/// One list from those of all rings, in the order of the first. Findings with the same kind of subject
/// are one finding.
pub(super) fn worst_of(rings: impl Iterator<Item = Vec<Finding>>) -> Vec<Finding> {
    rings.reduce(merge).unwrap_or_default()
}

fn merge(mut merged: Vec<Finding>, next: Vec<Finding>) -> Vec<Finding> {
    for finding in next {
        let kind = discriminant(&finding.subject);
        match merged.iter_mut().find(|known| discriminant(&known.subject) == kind) {
            Some(known) if is_worse(&finding, known) => *known = finding,
            Some(_) => {}
            None => merged.push(finding),
        }
    }
    merged
}

/// By outcome, then by margin, and without one by the smaller value: a probability. NaN is the worst. A
/// note with a margin is a remark on what is outside its limit, so its margin counts against a pass.
fn is_worse(one: &Finding, other: &Finding) -> bool {
    let passable = |finding: &Finding| {
        matches!(finding.outcome, Outcome::Pass | Outcome::Note) && finding.margin.is_finite()
    };
    if passable(one) && passable(other) {
        return one.margin < other.margin;
    }
    let rank = |finding: &Finding| match finding.outcome {
        Outcome::Note => 0,
        Outcome::Pass => 1,
        Outcome::NotKnown => 2,
        Outcome::Fail => 3,
    };
    if rank(one) != rank(other) {
        return rank(one) > rank(other);
    }
    match (one.margin.is_nan(), other.margin.is_nan()) {
        (true, true) => one.measured < other.measured,
        (false, false) => one.margin < other.margin,
        (unknown, _) => unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::super::advice::VacuumAdvice;
    use super::super::subject::Subject;
    use super::*;

    fn stress(measured: f64) -> Finding {
        Finding::at_most(
            Subject::Stress { resistance_k: 60.0, overstressed: Vec::new() },
            measured,
            10.0,
            None,
        )
    }

    #[test]
    fn the_worse_ring_gives_each_finding() {
        let found = worst_of([vec![stress(3.0)], vec![stress(9.0)]].into_iter());
        assert_eq!(found, vec![stress(9.0)]);
        let found = worst_of([vec![stress(11.0)], vec![stress(9.0)]].into_iter());
        assert_eq!(found, vec![stress(11.0)]);
        let lost = worst_of([vec![stress(1.0)], vec![stress(f64::NAN)]].into_iter());
        assert!(lost[0].measured.is_nan() && lost[0].outcome == Outcome::Fail);
    }

    /// More gas than the limit is a remark, not a failure, and no pass of another ring hides it.
    #[test]
    fn a_remark_on_one_ring_outweighs_the_pass_of_another() {
        let gas = |share: f64, outcome: Outcome| {
            let subject =
                Subject::TrappedGas { in_air: 0.2, advice: VacuumAdvice::AtMost(30.0) };
            vec![Finding { outcome, ..Finding::at_most(subject, share, 0.01, None) }]
        };
        let (good, bad) = (gas(0.005, Outcome::Pass), gas(0.06, Outcome::Note));
        for rings in [[good.clone(), bad.clone()], [bad.clone(), good]] {
            assert_eq!(worst_of(rings.into_iter()), bad);
        }
    }

    #[test]
    fn findings_of_one_ring_only_are_kept() {
        let gap = || Finding::note(Subject::SensorToPiece, 4.0, None);
        let found = worst_of([vec![stress(3.0)], vec![stress(2.0), gap()]].into_iter());
        assert_eq!(found[0], stress(3.0));
        assert_eq!(found.iter().map(|f| &f.subject).nth(1), Some(&Subject::SensorToPiece));
        assert!(worst_of([].into_iter()).is_empty());
    }
}
