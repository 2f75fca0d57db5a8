//! Advice, and how it is said. The numbers come rounded to their safe side, or are rounded so here.

use super::soak_advice::SoakAdvice;
use super::summary::{StepStress, StressCause};
use super::wording::Wording;
use crate::format::Scale;
use crate::spec::COAT_MAX_MM;

/// What coat would have enough glass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CoatAdvice {
    /// The thinnest, in whole hundredths (mm, wet).
    Thickness(f64),
    /// None of this slurry; one with more glass.
    MoreGlass,
    /// None at all.
    Impossible,
}

/// What vacuum would leave little enough gas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum VacuumAdvice {
    /// This pressure or less (hPa).
    AtMost(f64),
    /// The same, but the furnace has no pump (hPa).
    NoPump(f64),
    /// None that the furnace, or a schedule, may ask for.
    OutOfReach,
}

/// What would have made a soak do, after a blank; `stiff` is what to change where no soak does.
pub(super) fn soak(cure: SoakAdvice, scale: Scale, stiff: &str) -> String {
    let more = |minutes: f64| {
        let plural = if minutes > 1.5 { "s" } else { "" };
        format!("{minutes} more minute{plural}")
    };
    match cure {
        SoakAdvice::Longer { minutes, at_c } => {
            format!(" {} at {} would do.", more(minutes), scale.setpoint(at_c))
        }
        SoakAdvice::Added { minutes, at_c, max_c: most_c } => {
            format!(
                " A soak of {minutes} min at {} would do.",
                scale.round_up_within(at_c, most_c)
            )
        }
        SoakAdvice::Hotter { at_c, max_c: most_c } => format!(
            " The soak is too cold: as long at {} would do.",
            scale.round_up_within(at_c, most_c)
        ),
        SoakAdvice::HottestAndLonger { minutes, at_c, max_c: most_c } => format!(
            " The soak is too cold: {} at {}, as hot as the furnace allows, would \
             do.",
            more(minutes),
            scale.round_up_within(at_c, most_c)
        ),
        SoakAdvice::OutOfReach { minutes, at_c, max_c: most_c } => format!(
            " No soak that the furnace allows would do, not even {} at {}: {stiff}.",
            more(minutes),
            scale.round_up_within(at_c, most_c)
        ),
    }
}

/// What coat would have enough glass, after a blank.
pub(super) fn coat(advice: CoatAdvice) -> String {
    match advice {
        CoatAdvice::Thickness(mm) => format!(" Lay the coat on {mm:.2} mm thick when wet."),
        CoatAdvice::MoreGlass => format!(
            " Not even {COAT_MAX_MM:.2} mm, the thickest that a schedule takes, would be: take a \
             slurry with more glass in it."
        ),
        CoatAdvice::Impossible => format!(
            " Not even {COAT_MAX_MM:.2} mm of pure glass, the thickest that a schedule takes, would \
             be: the wall is too thick, or known too roughly."
        ),
    }
}

/// What vacuum would leave so little gas that it needs no remark.
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
            "No vacuum that this furnace draws would leave so little.".into()
        }
    }
}

/// What would have kept the wall from breaking in a step, after a blank.
pub(super) fn strain(strained: &StepStress, terms: Wording<'_>) -> String {
    let stage = terms.stage_name(strained.step);
    match strained.cause {
        StressCause::Ramp => format!(" Ramp more slowly in {stage}."),
        StressCause::Cooling => {
            format!(" Cool on a ramp instead of with the heat off in {stage}.")
        }
        StressCause::Opening => format!(" Let it get cooler before {stage} moves the chamber."),
    }
}
