//! Drying, burn-off, stress and melt-back.

use super::cure::{Change, cure};
use super::limits::{ROUGHNESS_MAX_M, STRESS_SAFETY};
use super::{Detail, Finding, FiringSummary, Outcome, Subject, advises, strain};
use crate::piece::{self, Lubricant, PieceState};
use crate::spec::WorkSpec;

/// Nothing for work that began dry.
pub(super) fn drying(piece: &PieceState) -> Vec<Finding> {
    let water = &piece.water;
    if !water.began_wet() {
        return Vec::new();
    }
    let dry = Finding::at_most(Subject::Dry, water.share(), piece::DRY_SHARE, water.dry_at_s());
    let growth = water.largest().map_or(1.0, |bubble| bubble.growth);
    let (detail, at_s) = match water.lifted() {
        None => (Detail::None, None),
        Some(first) => {
            let boiled = growth >= piece::GROWTH_BOILING;
            (Detail::Lifted { first, boiled }, Some(first.at_s))
        }
    };
    let boiled = Finding::at_most(Subject::Boiled, growth, piece::GROWTH_MAX, at_s);
    vec![dry, boiled.with(detail)]
}

/// Nothing for work without lubricant.
pub(super) fn burn_off(piece: &PieceState, firing: &FiringSummary) -> Option<Finding> {
    let lubricant = &piece.lubricant;
    if !lubricant.began() {
        return None;
    }
    let at_s = lubricant.clean_at_s();
    let found = Finding::at_most(Subject::BurntOff, lubricant.left(), piece::CLEAN_SHARE, at_s);
    // A soak without air burns nothing, however long it is.
    let in_air = firing.hottest().is_some_and(|(_, soak)| soak.lowest_pa >= piece::OXYGEN_PA);
    let advise = found.outcome == Outcome::Fail && advises(firing) && in_air;
    let does = |change: &Change| {
        // What the soak burnt already is part of what is left.
        let worth = Lubricant::worth(change.from_c, change.to_c).min(1.0);
        lubricant.clean_after(change.moved_s * (1.0 - worth) + change.more_s, change.to_c)
    };
    let cure = advise.then(|| cure(firing, piece, does));
    Some(found.with(Detail::Lubricant { charred: lubricant.charred(), cure }))
}

pub(super) fn stress(work: &WorkSpec, piece: &PieceState, firing: &FiringSummary) -> Finding {
    let tension = piece.stress.tension;
    let limit = work.body.strength_pa / STRESS_SAFETY;
    let found = Finding::at_most(Subject::Stress, tension.value, limit, Some(tension.at_s));
    let fails = found.outcome == Outcome::Fail && advises(firing);
    let detail = Detail::Stress {
        compression_pa: piece.stress.compression.value,
        resistance_k: piece::resistance_k(&work.body),
        strained: if fails { strain::strained(firing, limit) } else { Vec::new() },
    };
    found.with(detail)
}

/// Nothing for work that has no roughness to melt back. Infiltrated work with a roughness but
/// without a glass fails: a verdict that cannot be made is not a good one.
pub(super) fn melt_back(
    work: &WorkSpec,
    piece: &PieceState,
    firing: &FiringSummary,
) -> Option<Finding> {
    if !work.infiltrated || work.roughness_m <= 0.0 {
        return None;
    }
    let (Some(melt_back), Some(flow)) = (&piece.melt_back, &piece.flow) else {
        let rough = Finding::note(Subject::MeltBack, work.roughness_m, None);
        return Some(Finding { outcome: Outcome::Fail, ..rough }.with(Detail::NoGlass));
    };
    let levels = |per_pa: f64| melt_back.left_m(per_pa) <= ROUGHNESS_MAX_M;
    let advise = !levels(flow.per_pa()) && advises(firing);
    let cure = advise.then(|| cure(firing, piece, |change| levels(change.of_flow(flow).0)));
    let left = melt_back.left_m(flow.per_pa());
    let found = Finding::at_most(Subject::MeltBack, left, ROUGHNESS_MAX_M, None);
    Some(found.with(Detail::MeltBack { cure }))
}
