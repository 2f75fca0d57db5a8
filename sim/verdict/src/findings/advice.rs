//! Sentences of advice. Their numbers are rounded to the safe side.

use super::soak_advice::SoakAdvice;
use super::summary::{StepStress, StressCause};
use super::wording::Wording;
use crate::format::Scale;
use saggar_plant::spec::COAT_MAX_MM;

/// A coat with enough glass for the wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CoatAdvice {
    /// The thinnest wet coat that is enough, in whole hundredths (mm).
    Thickness(f64),
    /// No coat of this slurry is enough; a slurry with more glass is.
    MoreGlass,
    /// No coat is enough.
    Impossible,
}

/// A vacuum that leaves little enough gas in the pores.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VacuumAdvice {
    /// This pressure or less (hPa).
    AtMost(f64),
    /// The same, but the furnace has no pump (hPa).
    NoPump(f64),
    /// Deeper than the furnace, or a schedule, allows.
    OutOfReach,
}

/// The soak that would be enough, after a leading space; `alternatives` is the advice where no soak
/// within the furnace's limits is enough.
pub(super) fn soak(cure: SoakAdvice, scale: Scale, alternatives: &str) -> String {
    let more = |minutes: f64| {
        let plural = if minutes > 1.5 { "s" } else { "" };
        format!("{minutes} more minute{plural}")
    };
    match cure {
        SoakAdvice::Longer { minutes, at_c } => {
            format!(" {} at {} would be enough.", more(minutes), scale.setpoint(at_c))
        }
        SoakAdvice::Added { minutes, at_c, max_c: most_c } => {
            format!(
                " A soak of {minutes} min at {} would be enough.",
                scale.round_up_within(at_c, most_c)
            )
        }
        SoakAdvice::Hotter { at_c, max_c: most_c } => format!(
            " The soak is too cold: as long at {} would be enough.",
            scale.round_up_within(at_c, most_c)
        ),
        SoakAdvice::HottestAndLonger { minutes, at_c, max_c: most_c } => format!(
            " The soak is too cold: {} at {}, as hot as the furnace allows, would \
             be enough.",
            more(minutes),
            scale.round_up_within(at_c, most_c)
        ),
        SoakAdvice::OutOfReach { minutes, .. } if minutes < 1.0 => {
            format!(
                " This furnace cannot do it: the firing lasts as long as it allows. {alternatives}"
            )
        }
        SoakAdvice::OutOfReach { minutes, at_c, max_c: most_c } => format!(
            " This furnace cannot do it: no soak within its limits is enough, not even {} at {}. \
             {alternatives}",
            more(minutes),
            scale.round_up_within(at_c, most_c)
        ),
    }
}

/// The soak that would be enough, if it is known.
pub(super) fn advised(advice: Option<SoakAdvice>, scale: Scale, alternatives: &str) -> String {
    advice.map_or_else(String::new, |advice| soak(advice, scale, alternatives))
}

/// The coat that would be enough, after a leading space.
pub(super) fn coat(advice: CoatAdvice) -> String {
    match advice {
        CoatAdvice::Thickness(mm) => format!(" Make the wet coat {mm:.2} mm thick."),
        CoatAdvice::MoreGlass => format!(
            " Not even {COAT_MAX_MM:.2} mm, the thickest that a schedule allows, would be enough: use a \
             slurry with more glass."
        ),
        CoatAdvice::Impossible => format!(
            " Not even {COAT_MAX_MM:.2} mm of pure glass, the thickest that a schedule allows, would \
             be enough: make the wall thinner, or measure it more closely."
        ),
    }
}

/// The vacuum that would leave little enough gas.
pub(super) fn vacuum(advice: VacuumAdvice) -> String {
    match advice {
        VacuumAdvice::AtMost(hpa) => format!(
            "For fewer pores infiltrate under a vacuum of {hpa} hPa or less, drawn before the glass \
             flows."
        ),
        VacuumAdvice::NoPump(hpa) => format!(
            "For fewer pores infiltrate in a furnace with a pump, under a vacuum of {hpa} hPa or \
             less."
        ),
        VacuumAdvice::OutOfReach => {
            "This furnace cannot draw a vacuum that leaves so little.".into()
        }
    }
}

/// How to reduce the tension in a step, after a leading space.
pub(super) fn strain(strained: &StepStress, terms: Wording<'_>) -> String {
    let stage = terms.label_of(strained.step);
    match strained.cause {
        StressCause::Ramp => format!(" Ramp more slowly in {stage}."),
        StressCause::Cooling => {
            format!(" Cool on a ramp instead of with the heat off in {stage}.")
        }
        StressCause::Opening => format!(" Let it get cooler before {stage} moves the chamber."),
    }
}
