//! Sentences about infiltration: the front, its uncertainty, the coat, and trapped gas.

use super::advice::{self, VacuumAdvice};
use super::finding::{Finding, Outcome};
use super::limits::CONFIDENCE_MIN;
use super::soak_advice::SoakAdvice;
use super::subject::Subject;
use super::uncertainty::{UncertaintyBudget, UncertaintyComponent, UncertaintySource};
use crate::format::{Scale, at_minute, confidence, distinct, percent, without_zero_decimal};

/// Depth of the glass (mm) below which it counts as not in the wall: it is shown as 0.00.
const DEPTH_MIN_MM: f64 = 0.005;

/// Alternatives where no soak infiltrates the wall.
const INFILTRATION_ALTERNATIVES: &str = "Use a thinner wall, a glass of lower viscosity, or a furnace \
                                         that allows a hotter or longer soak.";

pub(super) fn infiltrated(f: &Finding, scale: Scale) -> String {
    let Subject::Infiltration {
        depth_m,
        used_up,
        cut_short_at_s,
        probability,
        count,
        advice,
        dominant,
        own_bound,
    } = f.subject
    else {
        return String::new();
    };
    let out_of_reach = matches!(advice, Some(SoakAdvice::OutOfReach { .. }));
    let advice = advice::advised(advice, scale, INFILTRATION_ALTERNATIVES)
        + &dominant.map_or_else(String::new, measure);
    let (depth, wall, at) = (depth_m * 1e3, f.limit * 1e3, at_minute(f.at_s));
    if f.outcome == Outcome::Pass {
        let bound =
            own_bound.map_or_else(String::new, |(k_min, bound)| bound.passed(k_min, scale));
        return format!(
            "yes,{at}; predicted depth {:.2} mm for a {wall:.2} mm wall (margin {}), {}.{bound}",
            f.measured * 1e3,
            percent(f.margin),
            through(probability, count)
        );
    }
    if used_up {
        let (depth, wall) = distinct(depth, wall, 2);
        let besides = match &advice {
            none if none.is_empty() => "",
            _ if out_of_reach => " Besides:",
            _ => " With it:",
        };
        return format!(
            "no. The front stopped at {depth} mm of {wall} mm when the coat was used up{at}. More \
             glass in the coat is needed.{besides}{advice}"
        );
    }
    if f.margin >= 0.0 {
        return format!(
            "nominally yes,{at}, but only with {} ({} is required).{advice}",
            through(probability, count),
            percent(CONFIDENCE_MIN)
        );
    }
    if depth < DEPTH_MIN_MM {
        let ended = |_| format!(": the firing ended{}", at_minute(cut_short_at_s));
        let why = cut_short_at_s.map_or_else(String::new, ended);
        return format!("no. The glass never entered the wall{why}.{advice}");
    }
    let why = if f.at_s.is_some() {
        format!("when the glass stiffened{at}")
    } else {
        "when the record ended".into()
    };
    let (depth, wall) = distinct(depth, wall, 2);
    format!("no. The front stopped at {depth} mm of {wall} mm {why}.{advice}")
}

/// The confidence with its condition: the figure says nothing about another glass than the one named.
fn through(probability: f64, count: u32) -> String {
    let pieces = match count {
        1 => "the piece".to_owned(),
        2 => "both pieces".to_owned(),
        _ => format!("all {count} pieces"),
    };
    let confidence = confidence(probability);
    format!(
        "{confidence} confidence that the front gets through {pieces}, given this glass and this fit"
    )
}

pub(super) fn uncertainty(budget: &UncertaintyBudget) -> String {
    let parts: Vec<String> = budget
        .components
        .iter()
        .filter(|component| component.share >= 0.005)
        .map(|component| format!("{} ({})", component.source.name(), percent(component.share)))
        .collect();
    let advice = match budget.dominant_input() {
        Some(dominant) => measure(dominant),
        None => " The pore radius is an effective value, fitted and not measured: published trials \
                 infiltrate more slowly than their mean pore radii predict. Fit it to a test piece \
                 that is cut and dyed."
            .into(),
    };
    format!("comes from {}.{advice}", parts.join(", "))
}

/// Advice to measure the input that dominates the uncertainty, after a leading space.
fn measure(dominant: UncertaintyComponent) -> String {
    let share = percent(dominant.share);
    match dominant.source {
        UncertaintySource::Wall => {
            format!(" Measure the wall: {share} of the uncertainty comes from its tolerance.")
        }
        UncertaintySource::Unevenness => format!(
            " Measure the wall at its thickest spot: {share} of the uncertainty comes from its \
             unevenness."
        ),
        UncertaintySource::Sensor => format!(
            " Calibrate the control sensor: {share} of the uncertainty comes from its tolerance."
        ),
        UncertaintySource::TemperatureDependence => format!(
            " Fit the pore radius to a trial at the temperature of this soak: {share} of the \
             uncertainty comes from the way between the two temperatures."
        ),
        UncertaintySource::PoreRadius
        | UncertaintySource::Viscosity
        | UncertaintySource::RadiusOverViscosity
        | UncertaintySource::Tortuosity
        | UncertaintySource::ContactAngle
        | UncertaintySource::PieceTemperature => String::new(),
    }
}

pub(super) fn budget(f: &Finding) -> String {
    let Subject::CoatBudget { probability, count, left_over_m3, advice } = f.subject else {
        return String::new();
    };
    let ratio = f.measured;
    let confidence = confidence(probability);
    let pieces = match count {
        1 => String::new(),
        2 => " on both pieces".to_owned(),
        _ => format!(" on all {count} pieces"),
    };
    if f.outcome == Outcome::Pass {
        return format!(
            "{ratio:.2} times the pore volume of the wall, {:.0} mm³ per piece left over, \
             {confidence} confidence that it is enough{pieces}.",
            left_over_m3 * 1e9
        );
    }
    let advice = advice.map_or_else(String::new, advice::coat);
    format!(
        "{ratio:.2} times the pore volume of the wall, only {confidence} confidence that it is \
         enough{pieces} ({} is required).{advice}",
        percent(CONFIDENCE_MIN)
    )
}

pub(super) fn trapped_gas(f: &Finding, in_air: f64, advice: VacuumAdvice) -> String {
    let (share, limit) = distinct(100.0 * f.measured, 100.0 * f.limit, 1);
    match f.outcome {
        Outcome::Pass => format!(
            "at most {share} % of the pores where the back is closed; in air it would be {:.0} \
             %.",
            100.0 * in_air
        ),
        Outcome::Fail | Outcome::NotKnown | Outcome::Note => format!(
            "up to {share} % of the pores where the back is closed (at most {} % needs no \
             remark). {}",
            without_zero_decimal(&limit),
            advice::vacuum(advice)
        ),
    }
}
