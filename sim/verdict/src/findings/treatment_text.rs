//! Sentences about drying, burn-off and stress.

use super::advice;
use super::finding::Finding;
use super::limits::STRESS_SAFETY;
use super::soak_advice::SoakAdvice;
use super::subject::CoatLift;
use super::summary::StepStress;
use super::wording::Wording;
use crate::format::{Scale, at_minute, distinct, percent, without_zero_decimal};
use saggar_plant::piece;

/// Pressure (Pa) below which the sentence about boiling names the pump as the cause.
const THIN_PA: f64 = 9.0e4;

/// Alternatives where no soak burns the lubricant off.
const BURN_OFF_ALTERNATIVES: &str = "Leave less lubricant in the body, or use a furnace that allows a \
                                     hotter or longer soak.";

pub(super) fn dry(f: &Finding, cut_short: bool) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let (left, limit) = distinct(100.0 * f.measured, 100.0 * f.limit, 0);
    let advice = if cut_short { "" } else { " Dry longer in air before the ramp." };
    format!("no, {left} % of the water is left ({limit} % is allowed).{advice}")
}

/// Where the water is.
const fn wet_part(coated: bool) -> &'static str {
    if coated { "the wet coat" } else { "the water in the pores of the body" }
}

pub(super) fn stayed_below_boiling(f: &Finding, coated: bool) -> String {
    let (growth, limit) = distinct(f.measured, f.limit, 1);
    format!(
        "{} stayed below its boiling point; bubbles in it grew to {growth} times their size (up to \
         {} times is allowed).",
        wet_part(coated),
        without_zero_decimal(&limit)
    )
}

pub(super) fn boiled(f: &Finding, lift: &CoatLift, coated: bool, scale: Scale) -> String {
    let CoatLift { first, boiled } = lift;
    let pumped = first.pressure_pa < THIN_PA;
    let place = if pumped {
        format!(" under vacuum ({:.0} hPa)", first.pressure_pa / 100.0)
    } else {
        String::new()
    };
    let advice = if pumped {
        "Dry it in air first, and pump only when dry.".to_owned()
    } else {
        let lifts = scale.round_down(piece::lift_temperature_c(first.pressure_pa));
        format!("Dry it longer below {lifts}, or heat it more slowly up to there.")
    };
    let what = if *boiled { "began to boil" } else { "began to froth" };
    let risk = if coated { "the coat may lift" } else { "steam may crack the body" };
    format!(
        "no, {} {what}{place}{}, at {} with {} of the water left; {risk}. {advice}",
        wet_part(coated),
        at_minute(f.at_s),
        scale.whole_degrees(first.at_c),
        percent(first.water_left)
    )
}

pub(super) fn burnt_off(
    f: &Finding,
    char_share: f64,
    advice: Option<SoakAdvice>,
    cut_short: bool,
    scale: Scale,
) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let advice = match advice {
        _ if char_share > 0.5 * f.measured => {
            " Most of it is char: burn off in air, before any vacuum.".into()
        }
        Some(advice) => advice::soak(advice, scale, BURN_OFF_ALTERNATIVES),
        None if cut_short => String::new(),
        None => " Soak longer or hotter in air.".into(),
    };
    let (left, limit) = distinct(100.0 * f.measured, 100.0 * f.limit, 1);
    format!("no, {left} % of the lubricant is left ({limit} % is allowed).{advice}")
}

pub(super) fn stress(
    f: &Finding,
    resistance_k: f64,
    overstressed: &[StepStress],
    wording: Wording<'_>,
) -> String {
    let (tension, allowed) = distinct(f.measured / 1e6, f.limit / 1e6, 2);
    let advice: String =
        overstressed.iter().map(|step| advice::strain(step, wording)).collect();
    format!(
        "tension of {tension} MPa{}; {allowed} MPa is allowed (strength {:.2} MPa, safety factor \
         {STRESS_SAFETY:.0}). The wall would break where a face is {} colder than its \
         mean.{advice}",
        at_minute(f.at_s),
        f.limit * STRESS_SAFETY / 1e6,
        wording.scale.difference_at_most(resistance_k)
    )
}
