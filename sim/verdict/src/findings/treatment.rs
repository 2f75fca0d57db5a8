//! Drying, burn-off and stress.

use super::finding::{Finding, Outcome};
use super::limits::STRESS_SAFETY;
use super::soak_advice::{SoakChange, soak_advice};
use super::subject::{CoatLift, Subject};
use super::summary::{FiringSummary, StepStress};
use saggar_plant::piece::{self, Lubricant, Piece};
use saggar_plant::spec::WorkSpec;

/// Empty for work that was dry from the start.
pub(super) fn drying(work: &WorkSpec, piece: &Piece, firing: &FiringSummary) -> Vec<Finding> {
    let water = &piece.water;
    if !water.was_wet() {
        return Vec::new();
    }
    let dry = Subject::Drying { cut_short: firing.was_cut_short() };
    let growth = water.largest_bubble().map_or(1.0, |bubble| bubble.growth);
    let lifted = water
        .first_lift()
        .map(|first| CoatLift { first, boiled: growth >= piece::GROWTH_BOILING });
    let at_s = lifted.map(|lifted| lifted.first.at_s);
    vec![
        Finding::at_most(dry, water.share_left(), piece::DRY_SHARE, water.dry_at_s()),
        Finding::at_most(
            Subject::Boiling { lift: lifted, coated: work.coat.is_some() },
            growth,
            piece::GROWTH_MAX,
            at_s,
        ),
    ]
}

/// `None` for work without lubricant.
pub(super) fn burn_off(piece: &Piece, firing: &FiringSummary) -> Option<Finding> {
    let lubricant = &piece.lubricant;
    if !lubricant.was_present() {
        return None;
    }
    let (left, most) = (lubricant.share_left(), piece::CLEAN_SHARE);
    // Without air nothing burns, so a longer soak would not help.
    let in_air =
        firing.hottest().is_some_and(|(_, soak)| soak.pressure_min_pa >= piece::OXYGEN_PA);
    let cut_short = firing.was_cut_short();
    let fails = Outcome::at_most(left, most) == Outcome::Fail;
    let does = |change: &SoakChange| {
        // The hotter soak replaces the old one, whose effect is already in the remaining share.
        let worth = Lubricant::equivalent_share(change.from_c, change.to_c).min(1.0);
        lubricant.clean_after(change.moved_s * (1.0 - worth) + change.more_s, change.to_c)
    };
    let cure = (fails && !cut_short && in_air).then(|| soak_advice(firing, piece, does));
    let subject =
        Subject::BurnOff { char_share: lubricant.char_share(), advice: cure, cut_short };
    Some(Finding::at_most(subject, left, most, lubricant.clean_at_s()))
}

pub(super) fn stress(work: &WorkSpec, piece: &Piece, firing: &FiringSummary) -> Finding {
    let tension = piece.stress.tension;
    let limit = work.body.strength_pa / STRESS_SAFETY;
    let fails = Outcome::at_most(tension.value, limit) == Outcome::Fail;
    let subject = Subject::Stress {
        resistance_k: piece::resistance_k(&work.body),
        overstressed: if fails && !firing.was_cut_short() {
            strained(firing, limit)
        } else {
            Vec::new()
        },
    };
    Finding::at_most(subject, tension.value, limit, Some(tension.at_s))
}

/// The steps whose tension exceeds `limit_pa` or is NaN. The advice names no rate, because tension
/// follows the rate of a ramp only roughly, and hardly at all while the furnace heats at full power.
fn strained(firing: &FiringSummary, limit_pa: f64) -> Vec<StepStress> {
    let above =
        |stress: &&StepStress| stress.tension_pa > limit_pa || stress.tension_pa.is_nan();
    firing.stresses.iter().filter(above).copied().collect()
}
