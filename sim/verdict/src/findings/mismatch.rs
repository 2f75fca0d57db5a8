//! Cooling mismatch: the stress in the glass once it has cooled on its body.

use super::finding::Finding;
use super::limits::STRESS_SAFETY;
use super::outer_glass::Mismatch;
use super::subject::Subject;
use saggar_plant::piece::{self, Piece};
use saggar_plant::spec::WorkSpec;

/// `None` without a glass, or if it never softened. Compression has no limit here, so it is a note.
pub(super) fn mismatch(work: &WorkSpec, piece: &Piece) -> Option<Finding> {
    let glass = &work.coat.as_ref()?.glass;
    if piece.hottest.value < glass.transition_c {
        return None;
    }
    let body_per_k = piece::infiltrated_expansion_per_k(work);
    let (glass_per_k, transition_c) = (glass.expansion_per_k, glass.transition_c);
    let subject = Subject::Mismatch(Mismatch { glass_per_k, body_per_k, transition_c });
    let stress_pa = piece::mismatch_pa(glass, body_per_k);
    if stress_pa <= 0.0 {
        return Some(Finding::note(subject, stress_pa, None));
    }
    Some(Finding::at_most(subject, stress_pa, glass.strength_pa / STRESS_SAFETY, None))
}
