//! A finding of the verdict. Each [`Subject`] carries its own data and knows its title, its unit and
//! its sentence, so that a new subject is added in this one file.

use saggar_core::events::Ending;

use super::advice::{self, CoatAdvice, VacuumAdvice};
use super::course_text;
use super::late_ramp::LateRamp;
use super::limits::{CONFIDENCE_MIN, STRESS_SAFETY};
use super::soak_advice::SoakAdvice;
use super::summary::{Interruption, LostSoak, NotStarted, StepStress};
use super::uncertainty::{UncertaintyBudget, UncertaintyComponent, UncertaintySource};
use super::wording::Wording;
use crate::format::{
    Scale, at_minute, confidence, distinct, energy, hours_and_minutes, percent,
    without_zero_decimal,
};
use crate::piece::{self, Bubble};

/// Pressure (Pa) below which the sentence about boiling names the pump as the cause.
const THIN_PA: f64 = 9.0e4;

/// Depth of the glass (mm) below which it counts as not in the wall: it is shown as 0.00.
const DEPTH_MIN_MM: f64 = 0.005;

/// Alternatives where no soak infiltrates the wall.
const INFILTRATION_ALTERNATIVES: &str = "Use a thinner wall, a glass of lower viscosity, or a furnace \
                                         that allows a hotter or longer soak.";

/// Alternatives where no soak melts the surface back.
const MELT_BACK_ALTERNATIVES: &str = "Blast more finely, leave a thicker skin of glass, or use a \
                                      furnace that allows a hotter or longer soak.";

/// Alternatives where no soak burns the lubricant off.
const BURN_OFF_ALTERNATIVES: &str = "Leave less lubricant in the body, or use a furnace that allows a \
                                     hotter or longer soak.";

/// The subject of a finding, with the data specific to it.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// The firing ran to its end.
    Ending {
        /// How it ended; `None` if it was still running when the record ends.
        ending: Option<Ending>,
        /// Why it did not begin; `None` if it did.
        not_started: Option<NotStarted>,
        /// The soak that ended it, if one lost its band.
        lost: Option<LostSoak>,
        /// The power had failed in it.
        after_cut: bool,
    },
    /// The free water had evaporated.
    Drying {
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// Water boiled in the wet coat or body, or bubbles grew in it and lifted the coat.
    Boiling {
        /// The moment at which the bubbles grew too large; `None` if they did not.
        lift: Option<CoatLift>,
        /// The water is in a coat; `false` if it is in the pores of a bare body.
        coated: bool,
    },
    /// The milling lubricant had burnt off.
    BurnOff {
        /// Char that formed for lack of oxygen, as a share of the lubricant.
        char_share: f64,
        /// The soak that would burn it off.
        advice: Option<SoakAdvice>,
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// The front came through the wall.
    Infiltration {
        /// Its depth at the end (m).
        depth_m: f64,
        /// The coat was used up before the wall was full.
        used_up: bool,
        /// When the firing ended before its last step was done (s); `None` if it ran to its end.
        cut_short_at_s: Option<f64>,
        /// Probability that it comes through.
        probability: f64,
        /// The soak that would make it pass.
        advice: Option<SoakAdvice>,
        /// The input to measure, if only the uncertainty makes the check fail.
        dominant: Option<UncertaintyComponent>,
    },
    /// The components of the uncertainty of the infiltration.
    Uncertainty(UncertaintyBudget),
    /// Glass in the coat over pore volume in the wall.
    CoatBudget {
        /// Probability that it fills the wall.
        probability: f64,
        /// Glass left over on one piece (m³), 0 if none.
        left_over_m3: f64,
        /// The coat that would pass, if this one does not.
        advice: Option<CoatAdvice>,
    },
    /// Gas that the glass may have trapped.
    TrappedGas {
        /// Share of the pores in which the same firing in air would trap gas.
        in_air: f64,
        /// The vacuum that would leave little enough.
        advice: VacuumAdvice,
    },
    /// Thermal stress against the strength of the body.
    Stress {
        /// Difference between mean and face at the body's strength (K).
        resistance_k: f64,
        /// The steps in which the tension was too large.
        overstressed: Vec<StepStress>,
    },
    /// The blasted surface melted back.
    MeltBack(MeltBackFinding),
    /// The hottest reading of the control sensor.
    SensorMax,
    /// The hottest mean of the piece.
    PieceMax,
    /// The sensor above the setpoint of a soak, or above the programme's highest.
    Overshoot,
    /// The piece itself above the programme's highest setpoint.
    PieceOverSetpoint {
        /// Whether the piece was hottest after the firing, so that the heat did not go off with it.
        after_firing: bool,
    },
    /// Distance of the sensor from the setpoint in a soak.
    SoakBand,
    /// The sensor above the piece in the hottest soak.
    SensorToPiece,
    /// A power cut.
    Interruption(Interruption),
    /// Energy from the mains.
    Energy,
    /// Length of the firing.
    Duration {
        /// The ramp that was the latest, if one was clearly late.
        latest: Option<LateRamp>,
    },
}

/// Bubbles that lifted the coat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoatLift {
    /// The moment at which they first grew too large.
    pub first: Bubble,
    /// The water boiled later.
    pub boiled: bool,
}

/// The result for a surface that is to be melted back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeltBackFinding {
    /// The remaining roughness was computed.
    Computed {
        /// The soak that would make it pass.
        advice: Option<SoakAdvice>,
    },
    /// It cannot be computed: the infiltrated work names no glass.
    NoGlass,
}

/// Result of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Inside the limit.
    Pass,
    /// Outside: the verdict fails.
    Fail,
    /// Information only; does not affect the verdict.
    Note,
}

impl Outcome {
    pub(super) fn pass_if(good: bool) -> Self {
        if good { Self::Pass } else { Self::Fail }
    }

    /// Of a value that must stay below `limit`; NaN fails.
    pub(super) fn at_most(measured: f64, limit: f64) -> Self {
        Self::pass_if(measured <= limit)
    }

    /// The result as a word in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Note => "note",
        }
    }
}

/// A finding of the verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Its subject.
    pub subject: Subject,
    /// Its result.
    pub outcome: Outcome,
    /// The measured value, in the subject's SI unit, °C or K.
    pub measured: f64,
    /// The limit in the same unit; infinite without a limit.
    pub limit: f64,
    /// Distance to the limit over the limit, positive on the good side; NaN without a limit.
    pub margin: f64,
    /// When it happened (s since the start).
    pub at_s: Option<f64>,
    /// The step of the programme that it refers to, counted from 0.
    pub step: Option<u8>,
}

impl Finding {
    /// A value that must stay below `limit`; NaN fails.
    pub(super) fn at_most(
        subject: Subject,
        measured: f64,
        limit: f64,
        at_s: Option<f64>,
    ) -> Self {
        let outcome = Outcome::at_most(measured, limit);
        let margin = (limit - measured) / limit;
        Self { subject, outcome, measured, limit, margin, at_s, step: None }
    }

    /// A value that must reach `limit`; NaN fails.
    pub(super) fn at_least(
        subject: Subject,
        measured: f64,
        limit: f64,
        at_s: Option<f64>,
    ) -> Self {
        let outcome = Outcome::pass_if(measured >= limit);
        let margin = (measured - limit) / limit;
        Self { subject, outcome, measured, limit, margin, at_s, step: None }
    }

    /// A value without a limit.
    pub(super) fn note(subject: Subject, measured: f64, at_s: Option<f64>) -> Self {
        let (outcome, limit, margin) = (Outcome::Note, f64::INFINITY, f64::NAN);
        Self { subject, outcome, measured, limit, margin, at_s, step: None }
    }

    /// The finding as one line; a failed one begins with `FAIL`.
    pub fn line<'a>(&self, wording: impl Into<Wording<'a>>) -> String {
        let mark = match self.outcome {
            Outcome::Fail => "FAIL ",
            Outcome::Pass | Outcome::Note => "",
        };
        format!("{mark}{}: {}", self.subject.title(), self.sentence(wording))
    }

    /// The finding in a sentence or two for a technician.
    pub fn sentence<'a>(&self, wording: impl Into<Wording<'a>>) -> String {
        let (f, wording) = (self, wording.into());
        let scale = wording.scale;
        let at = at_minute(f.at_s);
        match &f.subject {
            Subject::Ending { not_started: Some(why), .. } => why.sentence(),
            Subject::Ending { ending, lost, after_cut, .. } => course_text::ended(
                *ending,
                *lost,
                *after_cut,
                (f.at_s, f.step, f.measured),
                wording,
            ),
            Subject::Drying { cut_short } => dry(f, *cut_short),
            Subject::Boiling { lift: None, coated } => stayed_below_boiling(f, *coated),
            Subject::Boiling { lift: Some(lift), coated } => boiled(f, lift, *coated, scale),
            Subject::BurnOff { char_share, advice, cut_short } => {
                burnt_off(f, *char_share, *advice, *cut_short, scale)
            }
            Subject::Infiltration { advice, dominant, .. } => {
                let advice = advised(*advice, scale, INFILTRATION_ALTERNATIVES)
                    + &dominant.map_or_else(String::new, measure);
                infiltrated(f, &advice)
            }
            Subject::Uncertainty(budget) => uncertainty(budget),
            Subject::CoatBudget { probability, left_over_m3, advice } => {
                budget(f, *probability, *left_over_m3, *advice)
            }
            Subject::TrappedGas { in_air, advice } => trapped_gas(f, *in_air, *advice),
            Subject::Stress { resistance_k, overstressed } => {
                stress(f, *resistance_k, overstressed, wording)
            }
            Subject::MeltBack(MeltBackFinding::NoGlass) => {
                "cannot be computed: the work names no glass. Name it under [work.coat].".into()
            }
            Subject::MeltBack(MeltBackFinding::Computed { advice }) => {
                melt_back(f, &advised(*advice, scale, MELT_BACK_ALTERNATIVES))
            }
            Subject::SensorMax | Subject::PieceMax => {
                format!("{}{at}.", scale.whole_degrees(f.measured))
            }
            Subject::Overshoot | Subject::SoakBand => {
                let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
                format!("{found} of at most {limit}{at}{}.", wording.location(f.step))
            }
            Subject::PieceOverSetpoint { after_firing } => piece_over(f, *after_firing, scale),
            Subject::SensorToPiece => {
                let below = if f.measured < 0.0 { ": the sensor read too low" } else { "" };
                format!("{} in the hottest soak{below}.", scale.difference_tenths(f.measured))
            }
            Subject::Interruption(cut) => cut.sentence(wording),
            Subject::Energy => format!("{}.", energy(f.measured)),
            Subject::Duration { latest } => {
                let late =
                    latest.map_or_else(String::new, |ramp| course_text::late(&ramp, wording));
                format!("{}.{late}", hours_and_minutes(f.measured))
            }
        }
    }
}

impl Subject {
    /// Its title.
    pub const fn title(&self) -> &'static str {
        self.title_and_unit().0
    }

    /// Unit of its numbers, as one word; `None` if the numbers have no meaning of their own.
    pub const fn unit(&self) -> Option<&'static str> {
        self.title_and_unit().1
    }

    /// Title and unit.
    const fn title_and_unit(&self) -> (&'static str, Option<&'static str>) {
        match self {
            Self::Ending { .. } => ("Ending", None),
            Self::Drying { .. } => ("Dry", Some("share")),
            Self::Boiling { .. } => ("No boiling", Some("ratio")),
            Self::BurnOff { .. } => ("Burnt off", Some("share")),
            Self::Infiltration { .. } => ("Infiltrated through", Some("metre")),
            Self::Uncertainty(_) => ("Uncertainty", Some("share")),
            Self::CoatBudget { .. } => ("Glass in the coat", Some("ratio")),
            Self::TrappedGas { .. } => ("Trapped gas", Some("share")),
            Self::Stress { .. } => ("Thermal stress", Some("pascal")),
            Self::MeltBack(_) => ("Surface melted back", Some("metre")),
            Self::SensorMax => ("Hottest at the sensor", Some("celsius")),
            Self::PieceMax => ("Hottest in the piece", Some("celsius")),
            Self::Overshoot => ("Overshoot", Some("kelvin")),
            Self::PieceOverSetpoint { .. } => ("Piece above setpoint", Some("kelvin")),
            Self::SoakBand => ("Soak band", Some("kelvin")),
            Self::SensorToPiece => ("Sensor above piece", Some("kelvin")),
            Self::Interruption(_) => ("Power cut", Some("kelvin")),
            Self::Energy => ("Energy", Some("joule")),
            Self::Duration { .. } => ("Duration", Some("second")),
        }
    }
}

fn piece_over(f: &Finding, after_firing: bool, scale: Scale) -> String {
    let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
    match f.outcome {
        Outcome::Pass if f.measured > 0.0 => {
            format!("{found} of at most {limit}{}.", at_minute(f.at_s))
        }
        Outcome::Pass => "the piece stayed below the highest setpoint.".into(),
        Outcome::Fail | Outcome::Note => format!(
            "{found} of at most {limit}{}. {}",
            at_minute(f.at_s),
            if after_firing {
                "The heat did not go off with the firing: only a cut-out with its own contactor \
                 ends that."
            } else {
                "The control sensor may read too low: check it against the second one and calibrate."
            }
        ),
    }
}

fn dry(f: &Finding, cut_short: bool) -> String {
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

fn stayed_below_boiling(f: &Finding, coated: bool) -> String {
    let (growth, limit) = distinct(f.measured, f.limit, 1);
    format!(
        "{} stayed below its boiling point; bubbles in it grew to {growth} times their size (up to \
         {} times is allowed).",
        wet_part(coated),
        without_zero_decimal(&limit)
    )
}

fn boiled(f: &Finding, lift: &CoatLift, coated: bool, scale: Scale) -> String {
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

fn burnt_off(
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

/// The soak that would be enough, if it is known.
fn advised(advice: Option<SoakAdvice>, scale: Scale, alternatives: &str) -> String {
    advice.map_or_else(String::new, |advice| advice::soak(advice, scale, alternatives))
}

fn infiltrated(f: &Finding, advice: &str) -> String {
    let Subject::Infiltration { depth_m, used_up, cut_short_at_s, probability, .. } = f.subject
    else {
        return String::new();
    };
    let (depth, wall, at) = (depth_m * 1e3, f.limit * 1e3, at_minute(f.at_s));
    if f.outcome == Outcome::Pass {
        return format!(
            "yes,{at}; predicted depth {:.2} mm for a {wall:.2} mm wall (margin {}), {} \
             confidence.",
            f.measured * 1e3,
            percent(f.margin),
            confidence(probability)
        );
    }
    if used_up {
        let (depth, wall) = distinct(depth, wall, 2);
        let besides = if advice.is_empty() { "" } else { " With it:" };
        return format!(
            "no. The front stopped at {depth} mm of {wall} mm when the coat was used up{at}. More \
             glass in the coat is needed.{besides}{advice}"
        );
    }
    if f.margin >= 0.0 {
        return format!(
            "nominally yes,{at}, but only with {} confidence ({} is required).{advice}",
            confidence(probability),
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

fn uncertainty(budget: &UncertaintyBudget) -> String {
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
        UncertaintySource::Sensor => format!(
            " Calibrate the control sensor: {share} of the uncertainty comes from its tolerance."
        ),
        UncertaintySource::PoreRadius
        | UncertaintySource::Tortuosity
        | UncertaintySource::ContactAngle
        | UncertaintySource::Viscosity
        | UncertaintySource::SensorToPiece => String::new(),
    }
}

fn budget(
    f: &Finding,
    probability: f64,
    left_over_m3: f64,
    advice: Option<CoatAdvice>,
) -> String {
    let ratio = f.measured;
    if f.outcome == Outcome::Pass {
        return format!(
            "{ratio:.2} times the pore volume of the wall, {:.0} mm³ per piece left over, {} \
             confidence.",
            left_over_m3 * 1e9,
            confidence(probability)
        );
    }
    let advice = advice.map_or_else(String::new, advice::coat);
    format!(
        "{ratio:.2} times the pore volume of the wall, only {} confidence that it is enough ({} is \
         required).{advice}",
        confidence(probability),
        percent(CONFIDENCE_MIN)
    )
}

fn trapped_gas(f: &Finding, in_air: f64, advice: VacuumAdvice) -> String {
    let (share, limit) = distinct(100.0 * f.measured, 100.0 * f.limit, 1);
    match f.outcome {
        Outcome::Pass => format!(
            "at most {share} % of the pores where the back is closed; in air it would be {:.0} \
             %.",
            100.0 * in_air
        ),
        Outcome::Fail | Outcome::Note => format!(
            "up to {share} % of the pores where the back is closed (at most {} % needs no \
             remark). {}",
            without_zero_decimal(&limit),
            advice::vacuum(advice)
        ),
    }
}

fn stress(
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

fn melt_back(f: &Finding, advice: &str) -> String {
    let (left, limit) = distinct(f.measured * 1e6, f.limit * 1e6, 1);
    if f.outcome == Outcome::Pass {
        return format!("yes, {left} µm of roughness left, {limit} µm allowed.");
    }
    format!("no, {left} µm of roughness left, {limit} µm allowed.{advice}")
}
