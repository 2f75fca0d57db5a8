//! Where the models end: which firings make *Infiltrated through* not known.

use saggar_core::events::Ending;

use super::finding::{Finding, Outcome};
use super::subject::Subject;
use super::summary::FiringSummary;
use super::unknown::{ApproachBound, Unknown};
use saggar_plant::piece::Piece;

/// Makes *Infiltrated through* not known where the model's outcome does not count. A failure of the
/// model counts, because what the model leaves out would only add to it, unless the record ends too
/// early. A slow approach and dirty pores are said all the same, because the advice on a failure does not
/// change them.
pub(super) fn limit(found: Finding, piece: &Piece, firing: &FiringSummary) -> Finding {
    if !matches!(found.subject, Subject::Infiltration { .. }) {
        return found;
    }
    let unknown = match found.outcome {
        Outcome::Pass => reasons(piece),
        Outcome::Fail if flows_on(piece, firing) => vec![Unknown::StillFlowing],
        Outcome::Fail => {
            let lasts = |why: &Unknown| !matches!(why, Unknown::NoApproach { .. });
            let doubted = found.doubted(reasons(piece).into_iter().filter(lasts));
            return Finding { outcome: Outcome::Fail, ..doubted };
        }
        Outcome::NotKnown | Outcome::Note => Vec::new(),
    };
    found.doubted(unknown)
}

/// Why an infiltration that passes is not known.
fn reasons(piece: &Piece) -> Vec<Unknown> {
    let (Some(approach), Some(flow), Some(front)) =
        (&piece.approach, &piece.flow, &piece.front)
    else {
        return Vec::new();
    };
    let bound = ApproachBound::of(approach, flow.glass());
    let slow = match approach.mean_k_min() {
        None => Some(Unknown::NoApproach { hottest_c: piece.hottest.value, bound }),
        Some(k_min) if k_min >= bound.slowest_k_min => None,
        Some(k_min) => Some(Unknown::SlowApproach { k_min, bound }),
    };
    let lubricant = &piece.lubricant;
    let clean_at_s = lubricant.clean_at_s();
    let oily = front.sealed_at_s().filter(|sealed_at_s| {
        lubricant.was_present() && clean_at_s.is_none_or(|clean_at_s| clean_at_s > *sealed_at_s)
    });
    let oily = oily.map(|sealed_at_s| Unknown::LubricantInPores { sealed_at_s, clean_at_s });
    slow.into_iter().chain(oily).collect()
}

/// Whether the front may go on after the end of the record of a firing that ran to its end.
fn flows_on(piece: &Piece, firing: &FiringSummary) -> bool {
    let (Some(flow), Some(front)) = (&piece.flow, &piece.front) else { return false };
    let stopped = front.through_at_s().or(front.coat_used_up_at_s()).is_some();
    firing.ending == Some(Ending::Completed)
        && flow.per_pa() > 0.0
        && flow.stiff_at_s().is_none()
        && !stopped
}
