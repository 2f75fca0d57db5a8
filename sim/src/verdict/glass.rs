//! Infiltration: the front, how sure it is, the coat, the gas.

use super::cure::{Cure, cure};
use super::limits::{GAS_NOTE_SHARE, SURENESS_MIN};
use super::sureness::{self, Heat, Sureness};
use super::{Allowed, Detail, Finding, FiringSummary, Outcome, Subject, advises, pass_if};
use crate::piece::{self, Flow, Front, PieceState};
use crate::safe_side;
use crate::spec::{COAT_MAX_MM, CoatSpec, Spread, WorkSpec};

/// Pressure of the room (Pa).
const ROOM_PA: f64 = 101_325.0;

/// What coat would have enough glass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CoatAdvice {
    /// The thinnest, in whole hundredths (mm, wet).
    Thick(f64),
    /// None of this slurry; one with more glass.
    Rich,
    /// None at all.
    Never,
}

/// What vacuum would leave little enough gas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VacuumAdvice {
    /// This pressure or less (Pa).
    Below(f64),
    /// The same, but the furnace has no pump (Pa).
    NoPump(f64),
    /// None that the furnace may be asked for.
    TooDeep,
}

/// Nothing for a firing that infiltrates nothing.
pub(super) fn infiltration(
    work: &WorkSpec,
    piece: &PieceState,
    firing: &FiringSummary,
) -> Vec<Finding> {
    let (Some(coat), Some(flow), Some(front)) = (&work.coat, &piece.flow, &piece.front) else {
        return Vec::new();
    };
    let heat = Heat {
        flow_per_k: flow.sensitivity_per_k(),
        tolerance_k: firing.sensor_tolerance_k,
        gap_k: firing.hottest().map_or(0.0, |(_, soak)| soak.sensor_minus_piece_k),
    };
    let sureness = |per_pa: f64, flow_per_k: f64| {
        let ln_ratio = libm::log(per_pa / front.plan().wall_per_pa);
        let heat = Heat { flow_per_k, ..heat };
        Sureness::of(ln_ratio, &work.body, coat, work.wall_m, heat)
    };
    let enough =
        |per_pa: f64, flow_per_k: f64| sureness(per_pa, flow_per_k).probability >= SURENESS_MIN;
    let sureness = sureness(flow.per_pa(), heat.flow_per_k);
    // More time adds no glass: a front that ran dry may need both.
    let advise = !enough(flow.per_pa(), heat.flow_per_k) && advises(firing);
    let cure = advise.then(|| cure(firing, piece, flow, enough));
    let mut found = vec![
        through(front, flow, &sureness, cure),
        Finding::note(Subject::Sureness, sureness.probability, None)
            .with(Detail::Sureness(sureness)),
        coat_budget(work, coat),
    ];
    if let Some(share) = front.trapped_share() {
        let gas = Finding::at_most(Subject::TrappedGas, share, GAS_NOTE_SHARE, None);
        // One side of the wall is open: more gas is a remark, not a failure.
        let outcome = match gas.outcome {
            Outcome::Pass => Outcome::Pass,
            Outcome::Fail | Outcome::Note => Outcome::Note,
        };
        let in_air = piece::trapped_share(ROOM_PA, ROOM_PA, front.plan().capillary_pa);
        let advice = vacuum(front.plan().capillary_pa, &firing.allowed);
        found.push(Finding { outcome, ..gas }.with(Detail::Gas { in_air, advice }));
    }
    found
}

fn through(front: &Front, flow: &Flow, sureness: &Sureness, cure: Option<Cure>) -> Finding {
    let good = front.through_at_s().is_some() && sureness.probability >= SURENESS_MIN;
    let used_up = front.used_up_at_s().is_some();
    let at_s = front.through_at_s().or(front.used_up_at_s()).or(flow.stiff_at_s());
    let limit = front.plan().wall_m;
    let detail = Detail::Front {
        depth_m: front.depth_m(),
        used_up,
        probability: sureness.probability,
        cure,
    };
    Finding {
        outcome: pass_if(good),
        ..Finding::at_least(Subject::Infiltrated, front.potential_m(), limit, at_s)
    }
    .with(detail)
}

/// The highest pressure that leaves little enough gas whatever the chamber has afterwards.
fn vacuum(capillary_pa: f64, allowed: &Allowed) -> VacuumAdvice {
    let pa = GAS_NOTE_SHARE * capillary_pa;
    match allowed.lowest_pa {
        None => VacuumAdvice::NoPump(pa),
        Some(lowest_pa) if lowest_pa <= pa => VacuumAdvice::Below(pa),
        Some(_) => VacuumAdvice::TooDeep,
    }
}

fn coat_budget(work: &WorkSpec, coat: &CoatSpec) -> Finding {
    let wall = work.wall_m.value;
    let ratio = piece::budget_ratio(&work.body, coat, wall);
    let probability = enough_glass(work, coat);
    let pores_m3 = work.area_m2 * wall * work.body.porosity;
    let good = probability >= SURENESS_MIN;
    let detail = Detail::Budget {
        probability,
        left_over_m3: pores_m3 * (ratio - 1.0).max(0.0),
        advice: if good { None } else { Some(coat_advice(work, coat)) },
    };
    Finding {
        outcome: pass_if(good),
        ..Finding::at_least(Subject::CoatBudget, ratio, 1.0, None)
    }
    .with(detail)
}

/// Probability that the glass of a coat fills the wall.
fn enough_glass(work: &WorkSpec, coat: &CoatSpec) -> f64 {
    let ratio = piece::budget_ratio(&work.body, coat, work.wall_m.value);
    sureness::budget(ratio, coat, work.wall_m)
}

/// The thinnest coat that passes, as a schedule would say it: a tolerance in millimetres stays what
/// it is when the coat gets thicker.
fn coat_advice(work: &WorkSpec, coat: &CoatSpec) -> CoatAdvice {
    let passes = |glass_share: f64, mm: f64| {
        let thickness_m = Spread { value: mm * 1e-3, ..coat.thickness_m };
        let coat = CoatSpec { thickness_m, glass_share, ..coat.clone() };
        enough_glass(work, &coat) >= SURENESS_MIN
    };
    let thick = safe_side::first(0.01, COAT_MAX_MM, 2, |mm| passes(coat.glass_share, mm));
    match thick {
        Some(mm) => CoatAdvice::Thick(mm),
        None if passes(1.0, COAT_MAX_MM) => CoatAdvice::Rich,
        None => CoatAdvice::Never,
    }
}
