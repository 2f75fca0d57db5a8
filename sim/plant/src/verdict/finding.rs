//! One thing that the verdict says. Each [`Subject`] carries its own data and knows its title, its
//! unit and its sentence, so that whoever adds one says here all that is to be said about it.

use saggar_core::events::Ending;

use super::advice::{self, CoatAdvice, VacuumAdvice};
use super::limits::{CONFIDENCE_MIN, STRESS_SAFETY};
use super::soak_advice::SoakAdvice;
use super::summary::{LostSoak, NotStarted, StepStress};
use super::uncertainty::UncertaintyBudget;
use super::wording::Wording;
use crate::format::{
    Scale, at_minute, at_second, confidence, distinct, energy, hours_and_minutes, percent,
    without_zero_decimal,
};
use crate::piece::{self, Bubble};

/// Pressure (Pa) below which the sentence about boiling blames the pump.
const THIN_PA: f64 = 9.0e4;

/// What to change where no soak infiltrates.
const THICK: &str = "it takes a glass that flows more easily, or a thinner wall";

/// What to change where no soak melts a surface back.
const ROUGH: &str = "it takes a thicker skin of glass, or a finer blasting";

/// What a finding is about, with the numbers that only this subject has.
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
    },
    /// The free water had gone.
    Drying {
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// Water boiled in the wet coat or body, or bubbles grew in it and lifted the coat.
    Boiling(Option<CoatLift>),
    /// The milling lubricant had gone.
    BurnOff {
        /// Char that want of oxygen left, as a share of it.
        char_share: f64,
        /// What would burn it off.
        advice: Option<SoakAdvice>,
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// The front came through the wall.
    Infiltration {
        /// Where it stood at the end (m).
        depth_m: f64,
        /// The coat was used up first.
        used_up: bool,
        /// Probability that it comes through.
        probability: f64,
        /// What would make it pass.
        advice: Option<SoakAdvice>,
    },
    /// What the sureness of that is made of.
    Uncertainty(UncertaintyBudget),
    /// Glass in the coat for the pores in the wall.
    CoatBudget {
        /// Probability that it fills the wall.
        probability: f64,
        /// Glass left over on one piece (m³), 0 if none.
        left_over_m3: f64,
        /// What coat would pass, if this one does not.
        advice: Option<CoatAdvice>,
    },
    /// Gas that the glass may have closed in.
    TrappedGas {
        /// Share of the pores that the same firing in air would close in.
        in_air: f64,
        /// What vacuum would leave little enough.
        advice: VacuumAdvice,
    },
    /// Thermal stress against the strength of the body.
    Stress {
        /// Difference between mean and face at the body's strength (K).
        resistance_k: f64,
        /// The steps in which it was too large.
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
    PieceOverSetpoint,
    /// The sensor beside the setpoint in a soak.
    SoakBand,
    /// The sensor above the piece in the hottest soak.
    SensorToPiece,
    /// Energy from the mains.
    Energy,
    /// Length of the firing.
    Duration,
}

/// Bubbles that lifted the coat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoatLift {
    /// They first grew too large.
    pub first: Bubble,
    /// They came to the boil later.
    pub boiled: bool,
}

/// What is known of a surface that is to be melted back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeltBackFinding {
    /// How rough it is left.
    Computed {
        /// What would make it pass.
        advice: Option<SoakAdvice>,
    },
    /// Nothing: the infiltrated work names no glass.
    NoGlass,
}

/// How a finding came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Inside the limit.
    Pass,
    /// Outside: the verdict fails.
    Fail,
    /// To be known; decides nothing.
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

    /// A word for programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Note => "note",
        }
    }
}

/// One thing that the verdict says.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is about.
    pub subject: Subject,
    /// How it came out.
    pub outcome: Outcome,
    /// What was found, in the subject's SI unit, °C or K.
    pub measured: f64,
    /// What it is compared with, same unit; infinite if nothing.
    pub limit: f64,
    /// Distance to the limit over the limit, positive on the good side; NaN without a limit.
    pub margin: f64,
    /// When it happened (s since the start).
    pub at_s: Option<f64>,
    /// The step of the programme that it is about, from 0, if it is about one.
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

    /// A value with nothing to compare it with.
    pub(super) fn note(subject: Subject, measured: f64, at_s: Option<f64>) -> Self {
        let (outcome, limit, margin) = (Outcome::Note, f64::INFINITY, f64::NAN);
        Self { subject, outcome, measured, limit, margin, at_s, step: None }
    }

    /// The whole finding in a line; a failed one begins with `FAIL`.
    pub fn line<'a>(&self, terms: impl Into<Wording<'a>>) -> String {
        let mark = match self.outcome {
            Outcome::Fail => "FAIL ",
            Outcome::Pass | Outcome::Note => "",
        };
        format!("{mark}{}: {}", self.subject.title(), self.sentence(terms))
    }

    /// What was found, in a sentence or two for a technician.
    pub fn sentence<'a>(&self, terms: impl Into<Wording<'a>>) -> String {
        let (f, terms) = (self, terms.into());
        let scale = terms.scale;
        let at = at_minute(f.at_s);
        match &f.subject {
            Subject::Ending { not_started: Some(why), .. } => why.sentence(),
            Subject::Ending { ending, lost, .. } => ended(f, *ending, *lost, terms),
            Subject::Drying { cut_short } => dry(f, *cut_short),
            Subject::Boiling(None) => stayed_below_boiling(f),
            Subject::Boiling(Some(lifted)) => boiled(f, lifted, scale),
            Subject::BurnOff { char_share: charred, advice: cure, cut_short } => {
                burnt_off(f, *charred, *cure, *cut_short, scale)
            }
            Subject::Infiltration { depth_m, used_up, probability, advice: cure } => {
                let advice = advised(*cure, scale, THICK);
                infiltrated(f, *depth_m, *used_up, *probability, &advice)
            }
            Subject::Uncertainty(sureness) => doubt(sureness),
            Subject::CoatBudget { probability, left_over_m3, advice } => {
                budget(f, *probability, *left_over_m3, *advice)
            }
            Subject::TrappedGas { in_air, advice } => trapped_gas(f, *in_air, *advice),
            Subject::Stress { resistance_k, overstressed: strained } => {
                stress(f, *resistance_k, strained, terms)
            }
            Subject::MeltBack(MeltBackFinding::NoGlass) => {
                "cannot be judged: the work names no glass on its surface.".into()
            }
            Subject::MeltBack(MeltBackFinding::Computed { advice: cure }) => {
                melt_back(f, &advised(*cure, scale, ROUGH))
            }
            Subject::SensorMax | Subject::PieceMax => {
                format!("{}{at}.", scale.whole_degrees(f.measured))
            }
            Subject::Overshoot | Subject::SoakBand => {
                let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
                format!("{found} of at most {limit}{at}{}.", terms.location(f.step))
            }
            Subject::PieceOverSetpoint => piece_over(f, scale),
            Subject::SensorToPiece => {
                let below =
                    if f.measured < 0.0 { ": it read less than the piece had" } else { "" };
                format!("{} in the hottest soak{below}.", scale.difference_tenths(f.measured))
            }
            Subject::Energy => format!("{}.", energy(f.measured)),
            Subject::Duration => format!("{}.", hours_and_minutes(f.measured)),
        }
    }
}

impl Subject {
    /// What it is called.
    pub const fn title(&self) -> &'static str {
        self.title_and_unit().0
    }

    /// Unit of its numbers, as one word; `None` where they mean nothing alone.
    pub const fn unit(&self) -> Option<&'static str> {
        self.title_and_unit().1
    }

    /// Title and unit.
    const fn title_and_unit(&self) -> (&'static str, Option<&'static str>) {
        match self {
            Self::Ending { .. } => ("Ending", None),
            Self::Drying { .. } => ("Dry", Some("share")),
            Self::Boiling(_) => ("No boiling", Some("ratio")),
            Self::BurnOff { .. } => ("Burnt off", Some("share")),
            Self::Infiltration { .. } => ("Infiltrated through", Some("metre")),
            Self::Uncertainty(_) => ("Doubt", Some("share")),
            Self::CoatBudget { .. } => ("Glass in the coat", Some("ratio")),
            Self::TrappedGas { .. } => ("Trapped gas", Some("share")),
            Self::Stress { .. } => ("Thermal stress", Some("pascal")),
            Self::MeltBack(_) => ("Surface melted back", Some("metre")),
            Self::SensorMax => ("Hottest at the sensor", Some("celsius")),
            Self::PieceMax => ("Hottest in the piece", Some("celsius")),
            Self::Overshoot => ("Overshoot", Some("kelvin")),
            Self::PieceOverSetpoint => ("Piece above setpoint", Some("kelvin")),
            Self::SoakBand => ("Soak band", Some("kelvin")),
            Self::SensorToPiece => ("Sensor above piece", Some("kelvin")),
            Self::Energy => ("Energy", Some("joule")),
            Self::Duration => ("Duration", Some("second")),
        }
    }
}

fn piece_over(f: &Finding, scale: Scale) -> String {
    let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
    match f.outcome {
        Outcome::Pass if f.measured > 0.0 => {
            format!("{found} of at most {limit}{}.", at_minute(f.at_s))
        }
        Outcome::Pass => "the piece stayed below the highest setpoint.".into(),
        Outcome::Fail | Outcome::Note => format!(
            "{found} of at most {limit}{}. The control sensor may read too low: check it against \
             the second one and calibrate.",
            at_minute(f.at_s)
        ),
    }
}

fn ended(
    f: &Finding,
    ending: Option<Ending>,
    lost: Option<LostSoak>,
    terms: Wording<'_>,
) -> String {
    let at = at_second(f.at_s);
    match ending {
        Some(Ending::Completed) => "the programme ran to its end.".into(),
        Some(Ending::Stopped) => format!("the firing was stopped{at}."),
        Some(Ending::Tripped(cause)) => {
            format!("an interlock took the heat away{at}: {}.", cause.name())
        }
        Some(Ending::Unanswered) => {
            format!("nobody answered the hold, so the firing was given up{at}.")
        }
        Some(Ending::BandLost) => {
            let which =
                f.step.map_or_else(|| "a soak".to_owned(), |step| terms.stage_name(step));
            let how = lost.map_or_else(String::new, |lost| lost.sentence(terms.scale));
            format!(
                "{which} was outside its band for longer than its patience, so the firing was \
                 given up{at}.{how}"
            )
        }
        Some(Ending::ClosureStuck) => format!(
            "the lift or door did not reach its position, so the firing was given up{at}."
        ),
        Some(Ending::TooLong) => {
            format!("it took longer than the furnace allows, so it was given up{at}.")
        }
        None if f.measured < 1.0 => "the firing did not begin.".into(),
        None => format!("it was still running{at}, where the record ends."),
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

fn stayed_below_boiling(f: &Finding) -> String {
    let (growth, limit) = distinct(f.measured, f.limit, 1);
    format!(
        "the wet coat stayed below its boiling point; bubbles in it grew to {growth} times their \
         size (up to {} times is allowed).",
        without_zero_decimal(&limit)
    )
}

fn boiled(f: &Finding, lifted: &CoatLift, scale: Scale) -> String {
    let CoatLift { first, boiled } = lifted;
    let pumped = first.pressure_pa < THIN_PA;
    let place = if pumped {
        format!(" under vacuum ({:.0} hPa)", first.pressure_pa / 100.0)
    } else {
        String::new()
    };
    let cure = if pumped {
        "Dry it in air first, and pump only when dry.".to_owned()
    } else {
        let lifts = scale.round_down(piece::lift_temperature_c(first.pressure_pa));
        format!("Dry it longer below {lifts}, or heat it more slowly up to there.")
    };
    let what = if *boiled { "began to boil" } else { "began to froth" };
    format!(
        "no, the wet coat {what}{place}{}, at {} with {} of the water left; it may lift. {cure}",
        at_minute(f.at_s),
        scale.whole_degrees(first.at_c),
        percent(first.water_left)
    )
}

fn burnt_off(
    f: &Finding,
    charred: f64,
    cure: Option<SoakAdvice>,
    cut_short: bool,
    scale: Scale,
) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let advice = match cure {
        _ if charred > 0.5 * f.measured => {
            " Most of it is char: burn off in air, before any vacuum.".into()
        }
        Some(cure) => advice::soak(cure, scale, "it takes less of it in the body"),
        None if cut_short => String::new(),
        None => " Hold longer or hotter in air.".into(),
    };
    let (left, limit) = distinct(100.0 * f.measured, 100.0 * f.limit, 1);
    format!("no, {left} % of the lubricant is left ({limit} % is allowed).{advice}")
}

/// What would have made a soak do, if it is known.
fn advised(cure: Option<SoakAdvice>, scale: Scale, stiff: &str) -> String {
    cure.map_or_else(String::new, |cure| advice::soak(cure, scale, stiff))
}

fn infiltrated(
    f: &Finding,
    depth_m: f64,
    used_up: bool,
    probability: f64,
    advice: &str,
) -> String {
    let (depth, wall, at) = (depth_m * 1e3, f.limit * 1e3, at_minute(f.at_s));
    if f.outcome == Outcome::Pass {
        return format!(
            "yes,{at}; the front could have gone {:.2} mm through a {wall:.2} mm wall (margin \
             {}), {} sure.",
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
            "on paper{at}, but only {} sure ({} is asked).{advice}",
            confidence(probability),
            percent(CONFIDENCE_MIN)
        );
    }
    let why = if f.at_s.is_some() {
        format!("when the glass stiffened{at}")
    } else {
        "when the record ended".into()
    };
    let (depth, wall) = distinct(depth, wall, 2);
    format!("no. The front stopped at {depth} mm of {wall} mm {why}.{advice}")
}

fn doubt(sureness: &UncertaintyBudget) -> String {
    let parts: Vec<String> = sureness
        .components
        .iter()
        .filter(|doubt| doubt.share >= 0.005)
        .map(|doubt| format!("{} ({})", doubt.source.name(), percent(doubt.share)))
        .collect();
    format!(
        "comes from {}. The pore radius is an effective one, fitted and not measured: published \
         trials infiltrate slower than their mean pores say. Fit it to a cut and dyed test \
         piece.",
        parts.join(", ")
    )
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
            "{ratio:.2} times the pores of the wall, {:.0} mm³ a piece left over, {} sure.",
            left_over_m3 * 1e9,
            confidence(probability)
        );
    }
    let advice = advice.map_or_else(String::new, advice::coat);
    format!(
        "{ratio:.2} times the pores of the wall, only {} sure to be enough ({} is asked).{advice}",
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
    strained: &[StepStress],
    terms: Wording<'_>,
) -> String {
    let (tension, allowed) = distinct(f.measured / 1e6, f.limit / 1e6, 2);
    let advice: String =
        strained.iter().map(|strained| advice::strain(strained, terms)).collect();
    format!(
        "{tension} MPa of tension{}, {allowed} MPa allowed: the body bears {STRESS_SAFETY:.0} times \
         that. A face {} colder than the mean of the wall would break it.{advice}",
        at_minute(f.at_s),
        terms.scale.difference_at_most(resistance_k)
    )
}

fn melt_back(f: &Finding, advice: &str) -> String {
    let (left, limit) = distinct(f.measured * 1e6, f.limit * 1e6, 1);
    if f.outcome == Outcome::Pass {
        return format!("yes, {left} µm of roughness left, {limit} µm allowed.");
    }
    format!("no, {left} µm of roughness left, {limit} µm allowed.{advice}")
}
