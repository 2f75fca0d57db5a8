//! Infiltration: the front with its confidence, the coat, and trapped gas.

use super::advice::{CoatAdvice, VacuumAdvice};
use super::advice_limits::AdviceLimits;
use super::finding::{Finding, Outcome};
use super::limits::{CONFIDENCE_MIN, GAS_NOTE_SHARE};
use super::soak_advice::{SoakAdvice, soak_advice};
use super::subject::Subject;
use super::summary::FiringSummary;
use super::uncertainty::{DepthUncertainty, PlaceFlow, UncertaintyBudget, enough_glass};
use super::unknown::ApproachBound;
use crate::rounding;
use saggar_plant::constants::ATMOSPHERE_PA;
use saggar_plant::piece::{self, Flow, FlowTotals, Front, Piece};
use saggar_plant::spec::{COAT_MAX_MM, CoatSpec, PRESSURE_MIN_HPA, UncertainValue, WorkSpec};

/// For one ring of pieces, with the confidence for all. Empty for a firing without infiltration.
pub(super) fn infiltration(
    work: &WorkSpec,
    pieces: &[Piece],
    piece: &Piece,
    firing: &FiringSummary,
) -> Vec<Finding> {
    let (Some(coat), Some(flow), Some(front)) = (&work.coat, &piece.flow, &piece.front) else {
        return Vec::new();
    };
    let uncertainty = DepthUncertainty::new(work, coat, firing.sensor_tolerance_k)
        .of_colder_pieces(firing.simulated_hotter_k);
    let fit = coat.glass.ln_fluidity(work.body.fitted_at_c);
    let place = |count: u32, totals: FlowTotals| PlaceFlow {
        count,
        ln_ratio: libm::log(totals.per_pa / front.plan().wall_per_pa),
        ln_over_fit: totals.mean_ln_fluidity - fit,
        per_k: totals.per_k,
    };
    let places = |totals: &dyn Fn(&Flow) -> FlowTotals| -> Vec<PlaceFlow> {
        let with_flow = |ring: &Piece| Some(place(ring.count, totals(ring.flow.as_ref()?)));
        pieces.iter().filter_map(with_flow).collect()
    };
    let budget = uncertainty.budget(&places(&Flow::totals));
    // A longer soak adds no glass: a front that ran out of glass may need both.
    let confident = budget.probability >= CONFIDENCE_MIN;
    let advise = !confident && !firing.was_cut_short();
    let advice = advise.then(|| {
        soak_advice(firing, piece, |change| {
            uncertainty.probability(&places(&|flow| change.of_flow(flow))) >= CONFIDENCE_MIN
        })
    });
    let probability = budget.probability;
    let mut found = vec![
        through(work, piece, (front, flow), &budget, advice, firing),
        Finding::note(Subject::Uncertainty(budget), probability, None),
        coat_budget(work, coat),
    ];
    if let Some(share) = front.trapped_share() {
        let capillary_pa = front.plan().capillary_pa;
        let subject = Subject::TrappedGas {
            in_air: piece::trapped_share(ATMOSPHERE_PA, ATMOSPHERE_PA, capillary_pa),
            advice: vacuum(capillary_pa, &firing.limits),
        };
        let gas = Finding::at_most(subject, share, GAS_NOTE_SHARE, None);
        // One side of the wall is open: more gas is a remark, not a failure.
        let outcome = match gas.outcome {
            Outcome::Pass => Outcome::Pass,
            Outcome::Fail | Outcome::NotKnown | Outcome::Note => Outcome::Note,
        };
        found.push(Finding { outcome, ..gas });
    }
    found
}

fn through(
    work: &WorkSpec,
    piece: &Piece,
    (front, flow): (&Front, &Flow),
    budget: &UncertaintyBudget,
    advice: Option<SoakAdvice>,
    firing: &FiringSummary,
) -> Finding {
    let nominal = front.through_at_s().is_some();
    let good = nominal && budget.probability >= CONFIDENCE_MIN;
    let used_up = front.coat_used_up_at_s().is_some();
    let at_s = front.through_at_s().or(front.coat_used_up_at_s()).or(flow.stiff_at_s());
    let limit = front.plan().wall_m;
    let subject = Subject::Infiltration {
        depth_m: front.depth_m(),
        used_up,
        cut_short_at_s: firing.cut_short_at_s(),
        probability: budget.probability,
        count: work.count,
        advice,
        // A smaller tolerance helps only a front that gets through at the best estimate.
        dominant: if nominal && !good { budget.dominant_input() } else { None },
        own_bound: ApproachBound::that_alone_passes(piece),
    };
    Finding {
        outcome: Outcome::pass_if(good),
        ..Finding::at_least(subject, front.predicted_depth_m(), limit, at_s)
    }
}

/// The highest pressure that leaves little enough gas even if the chamber stays at that pressure,
/// rounded down to the fewest digits that keep it within the furnace's limit.
fn vacuum(capillary_pa: f64, allowed: &AdviceLimits) -> VacuumAdvice {
    let most = GAS_NOTE_SHARE * capillary_pa / 100.0;
    let lowest = allowed.pressure_min_pa.map_or(0.0, |pa| pa / 100.0).max(PRESSURE_MIN_HPA);
    let said = (0..=2).map(|digits| rounding::down(most, digits)).find(|hpa| *hpa >= lowest);
    match (said, allowed.pressure_min_pa) {
        (Some(hpa), Some(_)) => VacuumAdvice::AtMost(hpa),
        (Some(hpa), None) => VacuumAdvice::NoPump(hpa),
        (None, _) => VacuumAdvice::OutOfReach,
    }
}

fn coat_budget(work: &WorkSpec, coat: &CoatSpec) -> Finding {
    let wall = work.wall_m.value;
    let ratio = piece::budget_ratio(&work.body, coat, wall);
    let probability = enough_glass(work, coat);
    let pores_m3 = work.area_m2 * wall * work.body.porosity;
    let good = probability >= CONFIDENCE_MIN;
    let subject = Subject::CoatBudget {
        probability,
        count: work.count,
        left_over_m3: pores_m3 * (ratio - 1.0).max(0.0),
        advice: if good { None } else { Some(coat_advice(work, coat)) },
    };
    Finding { outcome: Outcome::pass_if(good), ..Finding::at_least(subject, ratio, 1.0, None) }
}

/// The thinnest coat that passes, as a schedule states it: a tolerance in millimetres does not grow with
/// the coat.
fn coat_advice(work: &WorkSpec, coat: &CoatSpec) -> CoatAdvice {
    let passes = |glass_share: f64, mm: f64| {
        let thickness_m = UncertainValue { value: mm * 1e-3, ..coat.thickness_m };
        let coat = CoatSpec { thickness_m, glass_share, ..coat.clone() };
        enough_glass(work, &coat) >= CONFIDENCE_MIN
    };
    let thick =
        rounding::first_passing(0.01, COAT_MAX_MM, 2, |mm| passes(coat.glass_share, mm));
    match thick {
        Some(mm) => CoatAdvice::Thickness(mm),
        None if passes(1.0, COAT_MAX_MM) => CoatAdvice::MoreGlass,
        None => CoatAdvice::Impossible,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_vacuum_is_advised_in_digits_that_may_be_asked_for() {
        let advised = |capillary_pa: f64, lowest_pa: Option<f64>| {
            let allowed = AdviceLimits {
                programme_max_c: 1180.0,
                firing_max_s: 3600.0,
                pressure_min_pa: lowest_pa,
            };
            vacuum(capillary_pa, &allowed)
        };
        assert_eq!(advised(1.0e6, Some(3000.0)), VacuumAdvice::AtMost(100.0));
        assert_eq!(advised(309_900.0, Some(3000.0)), VacuumAdvice::AtMost(30.0));
        assert_eq!(advised(309_900.0, Some(3050.0)), VacuumAdvice::AtMost(30.9));
        assert_eq!(advised(309_900.0, Some(3100.0)), VacuumAdvice::OutOfReach);
        assert_eq!(advised(4_500.0, None), VacuumAdvice::NoPump(0.4));
        assert_eq!(advised(900.0, None), VacuumAdvice::OutOfReach);
    }
}
