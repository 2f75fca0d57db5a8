//! The sentence about surplus glass.

use super::finding::{Finding, Outcome};
use super::outer_glass::{Surplus, SurplusAdvice, SurplusInput, ThinnerCoat};
use crate::format::{at_minute, distinct};
use crate::rounding;

/// Shortest run that is told (m): below it the glass counts as where it was.
const RUN_MIN_M: f64 = 0.05e-3;

/// Narrowest strip without glass that is told (m).
const DRY_MIN_M: f64 = 0.05e-3;

/// Shortest run over the margin that is told as a number (m).
const SHOWN_MIN_M: f64 = 0.01e-3;

pub(super) fn runs(f: &Finding, found: &Surplus) -> String {
    let left = format!("{}{}", left(found), dry(found));
    let cure = found.advice.map_or_else(String::new, |cure| advice(found, cure));
    match f.outcome {
        Outcome::Pass | Outcome::Note => {
            format!("{}{}. {left}.", best(f, found), likely(f, found))
        }
        Outcome::NotKnown => {
            let (likely, rim) = likely_and_rim(f, found);
            format!(
                "may run over the margin: only a run of less than {likely} mm has 90 % \
                 confidence, {}, and {}. At the best estimate it {}. {left}.{cure}",
                source(f, found),
                bare(f, &rim),
                best(f, found)
            )
        }
        Outcome::Fail => {
            let (run, rim) = distinct(f.measured * 1e3, f.limit * 1e3, 1);
            let far = if f.measured < SHOWN_MIN_M { "less than 0.01" } else { &run };
            format!(
                "runs {far} mm below the {}, and {}: it runs over the margin{}, onto the pin and \
                 the fitting surface. {left}.{cure}",
                edge(found),
                bare(f, &rim),
                at_minute(f.at_s)
            )
        }
    }
}

/// Where it begins to run.
fn edge(found: &Surplus) -> &'static str {
    if found.skin { "skin" } else { "coat" }
}

/// What the margin has.
fn bare(f: &Finding, rim_mm: &str) -> String {
    if f.limit > 0.0 { format!("the bare rim is {rim_mm} mm") } else { "no rim is bare".into() }
}

/// What the glass does at the best estimate.
fn best(f: &Finding, found: &Surplus) -> String {
    match (f.measured < RUN_MIN_M, found.skin) {
        (true, true) => "stays where blasting left it".into(),
        (true, false) => "stays where it was brushed".into(),
        (false, _) => format!("runs {:.1} mm below the {}", f.measured * 1e3, edge(found)),
    }
}

/// How far glass that stays within the rim may run, after a semicolon.
fn likely(f: &Finding, found: &Surplus) -> String {
    if found.likely_run_m < RUN_MIN_M {
        return String::new();
    }
    let (likely, rim) = likely_and_rim(f, found);
    format!(
        "; with 90 % confidence it runs less than {likely} mm, {}, within the bare rim of {rim} mm",
        source(f, found)
    )
}

/// The likely run, rounded up, and the rim (mm).
fn likely_and_rim(f: &Finding, found: &Surplus) -> (String, String) {
    let likely_mm = found.likely_run_m * 1e3;
    let (_, rim) = distinct(likely_mm, f.limit * 1e3, 1);
    let digits = rim.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let up = rounding::up(likely_mm, u8::try_from(digits).unwrap_or(1));
    (format!("{up:.digits$}"), rim)
}

/// Where the distance beyond the best estimate comes from.
fn source(f: &Finding, found: &Surplus) -> String {
    let share = if found.is_most { "most" } else { "the largest part" };
    let what = if f.measured < RUN_MIN_M { "that" } else { "the difference" };
    format!("{share} of {what} from {}", name(found))
}

/// The input that adds the most.
fn name(found: &Surplus) -> &'static str {
    match found.from {
        SurplusInput::ContactAngle => "the contact angle",
        SurplusInput::Coat if found.skin => "the thickness of the skin",
        SurplusInput::Coat => "the thickness of the coat",
        SurplusInput::PoreRadius => "the pore radius",
        SurplusInput::Tortuosity => "the tortuosity of the pores",
        SurplusInput::Wall => "the thickness of the wall",
        SurplusInput::Porosity => "the porosity",
        SurplusInput::Viscosity => "the viscosity of the glass",
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

/// The strip at the margin that gets no glass, after a full stop.
fn dry(found: &Surplus) -> String {
    if found.dry_m < DRY_MIN_M {
        return String::new();
    }
    format!(". At the margin about {:.1} mm stay without glass", found.dry_m * 1e3)
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
        (None, None) => format!(
            " Bring the glass on in two firings ({low}, and {poor}); this tool cannot rehearse the second \
             of them, into pores that are partly filled."
        ),
    }
}
