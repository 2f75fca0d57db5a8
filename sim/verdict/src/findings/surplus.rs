//! Surplus glass: how far it runs down the wall, against the bare rim above the margin.

use super::finding::{Finding, Outcome};
use super::limits::CONFIDENCE_MIN;
use super::outer_glass::{Surplus, SurplusAdvice, ThinnerCoat};
use super::subject::Subject;
use super::surplus_cases::{largest, likely_run_m, with_thickness};
use super::uncertainty;
use crate::rounding;
use saggar_plant::piece::{Piece, coat_height_m};
use saggar_plant::spec::{CoatSpec, WorkSpec};

/// Widest bare rim that is advised, as a share of the coat's height: a coat on less of the wall would not
/// reach the pores below it. Common sense, no source.
const RIM_SHARE_MAX: f64 = 0.5;

/// `None` without a coat, or if its glass never softened.
pub(super) fn surplus(work: &WorkSpec, piece: &Piece) -> Option<Finding> {
    let (Some(coat), Some(flow), Some(film)) = (&work.coat, &piece.flow, &piece.film) else {
        return None;
    };
    if piece.hottest.value < coat.glass.transition_c {
        return None;
    }
    let per_pa = flow.per_pa();
    let likely_m = likely_run_m(work, coat, per_pa);
    // Written so that a NaN stays one.
    let likely_m = if likely_m < film.run_m() { film.run_m() } else { likely_m };
    let (from, share) = largest(work, coat, per_pa);
    let outcome = outcome(film.run_m(), likely_m, coat.bare_rim_m);
    let subject = Subject::Surplus(Surplus {
        thickness_m: film.thickness_m(),
        volume_m3: film.left_m() * work.area_m2,
        skin: work.infiltrated,
        likely_run_m: likely_m,
        from,
        is_most: share > 0.5,
        dry_m: dry_m(coat.bare_rim_m - film.run_m(), piece),
        advice: (outcome != Outcome::Pass).then(|| advice(work, coat, likely_m, per_pa)),
    });
    let mut found =
        Finding::at_most(subject, film.run_m(), coat.bare_rim_m, film.at_margin_s());
    found.outcome = outcome;
    if coat.bare_rim_m <= 0.0 {
        // A rim that is not there has no share: the wall's height takes its place.
        found.margin = -film.run_m() / film.height_m();
    }
    Some(found)
}

/// Width (m) of what stays without glass of a rim of which the film leaves this much: from the film's edge the
/// glass goes sideways about as far as it goes in. 0 for work without pores.
fn dry_m(bare_m: f64, piece: &Piece) -> f64 {
    piece.front.as_ref().map_or(0.0, |front| {
        let used_up = front.coat_used_up_at_s().is_some();
        let sideways_m = if used_up { front.depth_m() } else { front.predicted_depth_m() };
        (bare_m - sideways_m).max(0.0)
    })
}

/// Glass that stays at the best estimate alone is not known to stay. A NaN never passes.
fn outcome(run_m: f64, likely_m: f64, rim_m: f64) -> Outcome {
    let outcome = Outcome::at_most(run_m, rim_m);
    let stays = likely_m <= rim_m;
    if outcome == Outcome::Pass && !stays { Outcome::NotKnown } else { outcome }
}

/// A wider rim, or a thinner coat.
fn advice(work: &WorkSpec, coat: &CoatSpec, likely_m: f64, per_pa: f64) -> SurplusAdvice {
    let rim_mm = rounding::up(1e3 * likely_m, 1);
    let hundredths = rounding::down(coat.thickness_m.value * 1e5, 0);
    let mm = |fewer: f64| (hundredths - fewer) / 100.0;
    let thin = |fewer: f64| with_thickness(coat, mm(fewer) * 1e-3);
    let stays = |fewer| likely_run_m(work, &thin(fewer), per_pa) <= coat.bare_rim_m;
    let thinner = rounding::first_passing(1.0, hundredths - 1.0, 0, stays).map(|fewer| {
        let enough = || uncertainty::enough_glass(work, &thin(fewer)) >= CONFIDENCE_MIN;
        ThinnerCoat { mm: mm(fewer), fills_wall: work.infiltrated || enough() }
    });
    let high_enough = rim_mm * 1e-3 <= RIM_SHARE_MAX * coat_height_m(work.area_m2);
    SurplusAdvice { rim_mm: high_enough.then_some(rim_mm), coat: thinner }
}
