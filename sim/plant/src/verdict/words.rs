//! Sentences for a technician. Everything the verdict says in words is made here.

use saggar_core::sequencer::Ending;

use super::advice;
use super::limits::{STRESS_SAFETY, SURENESS_MIN};
use super::numbers::{apart, at_minute, at_second, duration, percent, sure, whole};
use super::{
    Detail, Finding, LostSoak, NotBegun, Outcome, Scale, Source, Subject, Sureness, Verdict,
};
use crate::piece;

/// Pressure (Pa) below which the sentence about boiling blames the pump.
const THIN_PA: f64 = 9.0e4;

/// In which terms a verdict is said.
#[derive(Clone, Copy, Debug, Default)]
pub struct Terms<'a> {
    /// The scale of temperatures.
    pub scale: Scale,
    /// What each step of the programme is called, as "stage 3": a verdict alone knows but steps.
    pub stages: &'a [String],
}

impl From<Scale> for Terms<'_> {
    fn from(scale: Scale) -> Self {
        Self { scale, stages: &[] }
    }
}

impl Terms<'_> {
    /// What a step is called.
    pub(super) fn stage(&self, step: u8) -> String {
        let named = self.stages.get(usize::from(step));
        named.cloned().unwrap_or_else(|| format!("step {}", u32::from(step) + 1))
    }

    /// Where something happened, after a comma; nothing if it has no place.
    fn place(&self, step: Option<u8>) -> String {
        step.map_or_else(String::new, |step| format!(", in {}", self.stage(step)))
    }
}

/// The whole verdict, one line a finding.
pub fn lines<'a>(verdict: &Verdict, terms: impl Into<Terms<'a>>) -> Vec<String> {
    let terms = terms.into();
    verdict.findings.iter().map(|finding| line(finding, terms)).collect()
}

/// One finding; a failed one begins with `FAIL`.
pub fn line<'a>(finding: &Finding, terms: impl Into<Terms<'a>>) -> String {
    let mark = match finding.outcome {
        Outcome::Fail => "FAIL ",
        Outcome::Pass | Outcome::Note => "",
    };
    format!("{mark}{}: {}", title(finding.subject), sentence(finding, terms))
}

/// What a finding is about, in words.
pub fn title(subject: Subject) -> &'static str {
    match subject {
        Subject::Ending => "Ending",
        Subject::Dry => "Dry",
        Subject::Boiled => "No boiling",
        Subject::BurntOff => "Burnt off",
        Subject::Infiltrated => "Infiltrated through",
        Subject::Sureness => "Doubt",
        Subject::CoatBudget => "Glass in the coat",
        Subject::TrappedGas => "Trapped gas",
        Subject::Stress => "Thermal stress",
        Subject::MeltBack => "Surface melted back",
        Subject::HottestSensor => "Hottest at the sensor",
        Subject::HottestPiece => "Hottest in the piece",
        Subject::Overshoot => "Overshoot",
        Subject::PieceOverSetpoint => "Piece above setpoint",
        Subject::SoakBand => "Soak band",
        Subject::SensorToPiece => "Sensor above piece",
        Subject::Energy => "Energy",
        Subject::Duration => "Duration",
    }
}

/// What was found, in a sentence or two.
pub fn sentence<'a>(finding: &Finding, terms: impl Into<Terms<'a>>) -> String {
    let (f, terms) = (finding, terms.into());
    let scale = terms.scale;
    let at = at_minute(f.at_s);
    match f.subject {
        Subject::Ending => ending(f, terms),
        Subject::Dry => dry(f),
        Subject::Boiled => boiled(f, scale),
        Subject::BurntOff => burnt_off(f, scale),
        Subject::Infiltrated => infiltrated(f, scale),
        Subject::Sureness => doubt(f),
        Subject::CoatBudget => budget(f),
        Subject::TrappedGas => trapped_gas(f),
        Subject::Stress => stress(f, terms),
        Subject::MeltBack => melt_back(f, scale),
        Subject::HottestSensor | Subject::HottestPiece => {
            format!("{}{at}.", scale.temperature(f.measured))
        }
        Subject::Overshoot | Subject::SoakBand => {
            let (found, limit) = scale.beside(f.measured, f.limit);
            format!("{found} of at most {limit}{at}{}.", terms.place(f.step))
        }
        Subject::PieceOverSetpoint => piece_over(f, scale),
        Subject::SensorToPiece => {
            let below = if f.measured < 0.0 { ": it read less than the piece had" } else { "" };
            format!("{} in the hottest soak{below}.", scale.difference(f.measured))
        }
        Subject::Energy => format!("{:.2} kWh.", f.measured / 3.6e6),
        Subject::Duration => duration(f.measured),
    }
}

fn piece_over(f: &Finding, scale: Scale) -> String {
    let (found, limit) = scale.beside(f.measured, f.limit);
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

fn ending(f: &Finding, terms: Terms<'_>) -> String {
    let Detail::Ending { ending, not_begun, lost } = &f.detail else {
        return "unknown.".into();
    };
    if let Some(why) = not_begun {
        return not_begun_because(*why);
    }
    let at = at_second(f.at_s);
    match ending {
        Some(Ending::Completed) => "the programme ran to its end.".into(),
        Some(Ending::Stopped) => format!("the operator stopped the firing{at}."),
        Some(Ending::Tripped(cause)) => {
            format!("an interlock took the heat away{at}: {}.", cause.name())
        }
        Some(Ending::Unanswered) => {
            format!("nobody answered the hold, so the firing was given up{at}.")
        }
        Some(Ending::BandLost) => {
            let which = f.step.map_or_else(|| "a soak".to_owned(), |step| terms.stage(step));
            let how = lost.map_or_else(String::new, |lost| band_lost(lost, terms.scale));
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

fn not_begun_because(why: NotBegun) -> String {
    match why {
        NotBegun::Tripped(cause) => format!(
            "the firing did not begin: an interlock had tripped before the start, {}. Start does \
             nothing until that trip is accepted.",
            cause.name()
        ),
        NotBegun::NoReading => "the firing did not begin: when start was pressed, the control \
                                sensor gave no reading that can be believed. Check the sensor \
                                and its noise in the furnace profile."
            .into(),
    }
}

/// In which direction a band was lost, and by how much.
fn band_lost(lost: LostSoak, scale: Scale) -> String {
    let away_k = lost.outside.away_k;
    let side = if away_k > 0.0 { "above" } else { "below" };
    let (found, limit) = scale.beside(away_k.abs(), lost.band_k);
    format!(
        " The sensor was up to {found} {side} its {}{}, and the band is {limit}.",
        scale.temperature(lost.setpoint_c),
        at_minute(Some(lost.outside.at_s))
    )
}

fn dry(f: &Finding) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let (left, limit) = apart(100.0 * f.measured, 100.0 * f.limit, 0);
    let advice = course(f, " Dry longer in air before the ramp.");
    format!("no, {left} % of the water is left ({limit} % is allowed).{advice}")
}

/// Advice on the course of a firing, if it has run its course.
fn course<'a>(f: &Finding, advice: &'a str) -> &'a str {
    if f.cut_short { "" } else { advice }
}

fn boiled(f: &Finding, scale: Scale) -> String {
    let Detail::Lifted { first, boiled } = f.detail else {
        let (growth, limit) = apart(f.measured, f.limit, 1);
        return format!(
            "the wet coat stayed below its boiling point; bubbles in it grew to {growth} times \
             their size (up to {} times is allowed).",
            whole(&limit)
        );
    };
    let pumped = first.pressure_pa < THIN_PA;
    let place = if pumped {
        format!(" under vacuum ({:.0} hPa)", first.pressure_pa / 100.0)
    } else {
        String::new()
    };
    let cure = if pumped {
        "Dry it in air first, and pump only when dry.".to_owned()
    } else {
        let lifts = scale.at_most(piece::lifts_at_c(first.pressure_pa));
        format!("Dry it longer below {lifts}, or heat it more slowly up to there.")
    };
    let what = if boiled { "began to boil" } else { "began to froth" };
    format!(
        "no, the wet coat {what}{place}{}, at {} with {} of the water left; it may lift. {cure}",
        at_minute(f.at_s),
        scale.temperature(first.at_c),
        percent(first.water_left)
    )
}

fn burnt_off(f: &Finding, scale: Scale) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let Detail::Lubricant { charred, cure } = f.detail else {
        return "unknown.".into();
    };
    let advice = match cure {
        _ if charred > 0.5 * f.measured => {
            " Most of it is char: burn off in air, before any vacuum.".into()
        }
        Some(cure) => advice::soak(cure, scale, "it takes less of it in the body"),
        None => course(f, " Hold longer or hotter in air.").into(),
    };
    let (left, limit) = apart(100.0 * f.measured, 100.0 * f.limit, 1);
    format!("no, {left} % of the lubricant is left ({limit} % is allowed).{advice}")
}

fn infiltrated(f: &Finding, scale: Scale) -> String {
    let Detail::Front { depth_m, used_up, probability, cure } = f.detail else {
        return "unknown.".into();
    };
    let (depth, wall, at) = (depth_m * 1e3, f.limit * 1e3, at_minute(f.at_s));
    let stiff = "it takes a glass that flows more easily, or a thinner wall";
    let advice = cure.map_or_else(String::new, |cure| advice::soak(cure, scale, stiff));
    if f.outcome == Outcome::Pass {
        return format!(
            "yes,{at}; the front could have gone {:.2} mm through a {wall:.2} mm wall (margin \
             {}), {} sure.",
            f.measured * 1e3,
            percent(f.margin),
            sure(probability)
        );
    }
    if used_up {
        let (depth, wall) = apart(depth, wall, 2);
        let besides = if advice.is_empty() { "" } else { " With it:" };
        return format!(
            "no. The front stopped at {depth} mm of {wall} mm when the coat was used up{at}. More \
             glass in the coat is needed.{besides}{advice}"
        );
    }
    if f.margin >= 0.0 {
        return format!(
            "on paper{at}, but only {} sure ({} is asked).{advice}",
            sure(probability),
            percent(SURENESS_MIN)
        );
    }
    let why = if f.at_s.is_some() {
        format!("when the glass stiffened{at}")
    } else {
        "when the record ended".into()
    };
    let (depth, wall) = apart(depth, wall, 2);
    format!("no. The front stopped at {depth} mm of {wall} mm {why}.{advice}")
}

fn doubt(f: &Finding) -> String {
    let Detail::Sureness(Sureness { doubts, .. }) = f.detail else {
        return "unknown.".into();
    };
    let parts: Vec<String> = doubts
        .iter()
        .filter(|doubt| doubt.share >= 0.005)
        .map(|doubt| format!("{} ({})", source(doubt.source), percent(doubt.share)))
        .collect();
    format!(
        "comes from {}. The pore radius is an effective one, fitted and not measured: published \
         trials infiltrate slower than their mean pores say. Fit it to a cut and dyed test \
         piece.",
        parts.join(", ")
    )
}

fn source(source: Source) -> &'static str {
    match source {
        Source::PoreRadius => "the pore radius",
        Source::Tortuosity => "the crookedness of the pores",
        Source::ContactAngle => "the contact angle",
        Source::Viscosity => "the viscosity of the glass",
        Source::Sensor => "the tolerance of the sensor",
        Source::SensorToPiece => "the difference of sensor and piece",
        Source::Wall => "the wall thickness",
    }
}

fn budget(f: &Finding) -> String {
    let Detail::Budget { probability, left_over_m3, advice } = f.detail else {
        return "unknown.".into();
    };
    let ratio = f.measured;
    if f.outcome == Outcome::Pass {
        return format!(
            "{ratio:.2} times the pores of the wall, {:.0} mm³ a piece left over, {} sure.",
            left_over_m3 * 1e9,
            sure(probability)
        );
    }
    let advice = advice.map_or_else(String::new, advice::coat);
    format!(
        "{ratio:.2} times the pores of the wall, only {} sure to be enough ({} is asked).{advice}",
        sure(probability),
        percent(SURENESS_MIN)
    )
}

fn trapped_gas(f: &Finding) -> String {
    let Detail::Gas { in_air, advice } = f.detail else {
        return "unknown.".into();
    };
    let (share, limit) = apart(100.0 * f.measured, 100.0 * f.limit, 1);
    match f.outcome {
        Outcome::Pass => format!(
            "at most {share} % of the pores where the back is closed; in air it would be {:.0} \
             %.",
            100.0 * in_air
        ),
        Outcome::Fail | Outcome::Note => format!(
            "up to {share} % of the pores where the back is closed (at most {} % needs no \
             remark). {}",
            whole(&limit),
            advice::vacuum(advice)
        ),
    }
}

fn stress(f: &Finding, terms: Terms<'_>) -> String {
    let Detail::Stress { resistance_k, strained, .. } = &f.detail else {
        return "unknown.".into();
    };
    let (tension, allowed) = apart(f.measured / 1e6, f.limit / 1e6, 2);
    let advice: String =
        strained.iter().map(|strained| advice::strain(strained, terms)).collect();
    format!(
        "{tension} MPa of tension{}, {allowed} MPa allowed: the body bears {STRESS_SAFETY:.0} times \
         that. A face {} colder than the mean of the wall would break it.{advice}",
        at_minute(f.at_s),
        terms.scale.difference_at_most(*resistance_k)
    )
}

fn melt_back(f: &Finding, scale: Scale) -> String {
    if f.detail == Detail::NoGlass {
        return "cannot be judged: the work names no glass on its surface.".into();
    }
    let Detail::MeltBack { cure } = f.detail else {
        return "unknown.".into();
    };
    let (left, limit) = apart(f.measured * 1e6, f.limit * 1e6, 1);
    if f.outcome == Outcome::Pass {
        return format!("yes, {left} µm of roughness left, {limit} µm allowed.");
    }
    let stiff = "it takes a thicker skin of glass, or a finer blasting";
    let advice = cure.map_or_else(String::new, |cure| advice::soak(cure, scale, stiff));
    format!("no, {left} µm of roughness left, {limit} µm allowed.{advice}")
}
