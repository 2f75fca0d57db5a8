//! The sentence about surplus glass.

use super::finding::{Finding, Outcome};
use super::outer_glass::{Surplus, SurplusAdvice, ThinnerCoat, WorseInput};
use crate::format::{at_minute, distinct};

/// Shortest run that is told (m): below it the glass counts as where it was.
const RUN_MIN_M: f64 = 0.05e-3;

pub(super) fn runs(f: &Finding, found: &Surplus) -> String {
    let left = left(found);
    let edge = if found.skin { "skin" } else { "coat" };
    let (run, rim) = distinct(f.measured * 1e3, f.limit * 1e3, 1);
    let within = if f.measured < RUN_MIN_M {
        let place = if found.skin { "where blasting left it" } else { "where it was brushed" };
        format!("stays {place}")
    } else {
        format!("runs {run} mm below the {edge}, within the bare rim of {rim} mm")
    };
    let (worse_run, _) = distinct(found.worse_run_m * 1e3, f.limit * 1e3, 1);
    let worse = format!("with {} it would run {worse_run} mm", worse(found));
    let cure = found.advice.map_or_else(String::new, |cure| advice(found, cure));
    match f.outcome {
        Outcome::Pass | Outcome::Note if found.worse_run_m < RUN_MIN_M => {
            format!("{within}. {left}.")
        }
        Outcome::Pass | Outcome::Note => format!("{within}; {worse}. {left}."),
        Outcome::NotKnown => format!(
            "nominally {within}, but {worse}, over the margin of a rim of {rim} mm. {left}.{cure}"
        ),
        Outcome::Fail => format!(
            "runs {run} mm below the {edge}, and the bare rim is {rim} mm: it runs over the \
             margin{}, onto the pin and the fitting surface. {left}.{cure}",
            at_minute(f.at_s)
        ),
    }
}

/// The input whose error counts most.
fn worse(found: &Surplus) -> String {
    let edge = if found.skin { "skin" } else { "coat" };
    match found.worse {
        WorseInput::ContactAngle { best, worse } => {
            format!("a contact angle of {worse:.0}° instead of {best:.0}°")
        }
        WorseInput::Coat { best, worse } => {
            format!("a {edge} of {:.2} mm instead of {:.2} mm", worse * 1e3, best * 1e3)
        }
        WorseInput::PoreRadius { best, worse } => {
            format!("pores of {:.0} nm instead of {:.0} nm", worse * 1e9, best * 1e9)
        }
        WorseInput::Wall { best, worse } => {
            format!("a wall of {:.2} mm instead of {:.2} mm", worse * 1e3, best * 1e3)
        }
    }
}

/// What is left to grind, as a sentence without its full stop.
fn left(found: &Surplus) -> String {
    let (mm, mm3) = (found.thickness_m * 1e3, found.volume_m3 * 1e9);
    if found.skin {
        return format!("The skin is {mm:.2} mm thick on average");
    }
    if mm3 < 0.5 {
        return "The pores drink all of it, and nothing is left to grind".into();
    }
    format!("Left to grind: {mm:.2} mm of glass on average, {mm3:.0} mm³ per piece")
}

/// A wider rim or a thinner coat, after a leading space.
fn advice(found: &Surplus, SurplusAdvice { rim_mm, coat }: SurplusAdvice) -> String {
    let wider = rim_mm.map(|mm| match found.skin {
        true => format!("grind the skin off {mm:.1} mm above the margin"),
        false => format!("end the coat {mm:.1} mm above the margin"),
    });
    let thinner =
        coat.filter(|coat| coat.fills_wall).map(|ThinnerCoat { mm, .. }| match found.skin {
            true => format!("leave a skin of at most {mm:.2} mm"),
            false => format!("make the wet coat at most {mm:.2} mm thick"),
        });
    let low = "the wall is not high enough for a rim that is wide enough";
    let poor = "a coat thin enough to stay would not hold enough glass for the wall";
    match (wider, thinner) {
        (Some(wider), Some(thinner)) => format!(" To keep it off, {wider}, or {thinner}."),
        (Some(wider), None) => format!(" To keep it off, {wider}: {poor}."),
        (None, Some(thinner)) => format!(" To keep it off, {thinner}: {low}."),
        (None, None) => format!(" Bring the glass on in two firings: {low}, and {poor}."),
    }
}
