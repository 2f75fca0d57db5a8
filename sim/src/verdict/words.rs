//! Sentences for a technician. Everything the verdict says in words is made here.

use super::limits::{GAS_NOTE_SHARE, STRESS_SAFETY, SURENESS_MIN};
use saggar_core::sequencer::Ending;

use super::{Cure, Detail, Finding, Outcome, Source, Subject, Sureness, Verdict};

/// In which scale temperatures are said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Degrees Celsius.
    #[default]
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Scale {
    /// A temperature, in whole degrees.
    pub fn temperature(self, c: f64) -> String {
        match self {
            Self::Celsius => format!("{c:.0} °C"),
            Self::Fahrenheit => format!("{:.0} °F", c * 1.8 + 32.0),
        }
    }

    /// A difference of temperatures, to a tenth.
    pub fn difference(self, k: f64) -> String {
        match self {
            Self::Celsius => format!("{k:.1} K"),
            Self::Fahrenheit => format!("{:.1} °F", k * 1.8),
        }
    }
}

/// The whole verdict, one line a finding.
pub fn lines(verdict: &Verdict, scale: Scale) -> Vec<String> {
    verdict.findings.iter().map(|finding| line(finding, scale)).collect()
}

/// One finding; a failed one begins with `FAIL`.
pub fn line(finding: &Finding, scale: Scale) -> String {
    let mark = match finding.outcome {
        Outcome::Fail => "FAIL ",
        Outcome::Pass | Outcome::Note => "",
    };
    format!("{mark}{}: {}", title(finding.subject), sentence(finding, scale))
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
        Subject::SoakBand => "Soak band",
        Subject::SensorToPiece => "Sensor above piece",
        Subject::Energy => "Energy",
        Subject::Duration => "Duration",
    }
}

/// What was found, in a sentence or two.
pub fn sentence(finding: &Finding, scale: Scale) -> String {
    let f = finding;
    let at = at_minute(f.at_s);
    match f.subject {
        Subject::Ending => ending(f),
        Subject::Dry => dry(f),
        Subject::Boiled => boiled(f, scale),
        Subject::BurntOff => burnt_off(f),
        Subject::Infiltrated => infiltrated(f, scale),
        Subject::Sureness => doubt(f),
        Subject::CoatBudget => budget(f),
        Subject::TrappedGas => trapped_gas(f),
        Subject::Stress => stress(f, scale),
        Subject::MeltBack => melt_back(f),
        Subject::HottestSensor | Subject::HottestPiece => {
            format!("{}{at}.", scale.temperature(f.measured))
        }
        Subject::Overshoot | Subject::SoakBand => {
            let limit = scale.difference(f.limit);
            format!("{} of at most {limit}{at}.", scale.difference(f.measured))
        }
        Subject::SensorToPiece => format!("{} in the soak.", scale.difference(f.measured)),
        Subject::Energy => format!("{:.2} kWh.", f.measured / 3.6e6),
        Subject::Duration => duration(f.measured),
    }
}

fn at_minute(at_s: Option<f64>) -> String {
    at_s.map_or_else(String::new, |s| format!(" at minute {:.0}", s / 60.0))
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// A probability, rounded down and never to certainty.
fn sure(probability: f64) -> String {
    format!("{:.0} %", (100.0 * probability).floor().min(99.0))
}

fn duration(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round();
    format!("{:.0} h {:02.0} min.", (minutes / 60.0).floor(), minutes % 60.0)
}

fn ending(f: &Finding) -> String {
    let Detail::Ending(ending) = &f.detail else {
        return "unknown.".into();
    };
    let at = at_minute(f.at_s);
    match ending {
        Some(Ending::Completed) => "the programme ran to its end.".into(),
        Some(Ending::Stopped) => format!("the operator stopped the firing{at}."),
        Some(Ending::Tripped(cause)) => {
            format!("an interlock took the heat away{at}: {}.", cause.name())
        }
        Some(Ending::Unanswered) => {
            format!("nobody answered the operator hold; the firing was given up{at}.")
        }
        Some(Ending::BandLost) => {
            format!("a soak lost its band for longer than its patience; given up{at}.")
        }
        Some(Ending::ClosureStuck) => {
            format!("the lift or door did not get where it was asked to go; given up{at}.")
        }
        Some(Ending::TooLong) => {
            format!("the firing took longer than the furnace allows; given up{at}.")
        }
        None => format!("still running{at}, the end of the record."),
    }
}

fn dry(f: &Finding) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let left = percent(f.measured);
    format!("no, {left} of the water is left. Dry longer in air before the ramp.")
}

fn boiled(f: &Finding, scale: Scale) -> String {
    let Detail::Boil { at_c, water_left } = f.detail else {
        return "the water stayed below its boiling point at every pressure.".into();
    };
    format!(
        "water boiled{} at {} with {} of it left, {:.0} hPa over the chamber: the coat may \
         lift. Dry longer or slower, and pump only when dry.",
        at_minute(f.at_s),
        scale.temperature(at_c),
        percent(water_left),
        f.measured / 100.0
    )
}

fn burnt_off(f: &Finding) -> String {
    if f.at_s.is_some() {
        return format!("yes{}.", at_minute(f.at_s));
    }
    let mostly_char = matches!(f.detail, Detail::Char(share) if share > 0.5 * f.measured);
    let advice = if mostly_char {
        "Most of it is char: burn off in air, before any vacuum."
    } else {
        "Hold longer or hotter in air."
    };
    format!("no, {:.1} % of the lubricant is left. {advice}", 100.0 * f.measured)
}

fn infiltrated(f: &Finding, scale: Scale) -> String {
    let Detail::Front { depth_m, used_up, probability, cure } = f.detail else {
        return "unknown.".into();
    };
    let (depth, wall, at) = (depth_m * 1e3, f.limit * 1e3, at_minute(f.at_s));
    let advice = cure.map_or_else(String::new, |cure| advice(cure, scale));
    if f.outcome == Outcome::Pass {
        return format!(
            "yes,{at}; front could have gone {:.2} mm through a {wall:.2} mm wall (margin {}), \
             sure to {}.",
            f.measured * 1e3,
            percent(f.margin),
            sure(probability)
        );
    }
    if used_up {
        return format!(
            "no. The front stopped at {depth:.2} mm of {wall:.2} mm when the coat was used \
             up{at}. A thicker coat is needed."
        );
    }
    if f.margin >= 0.0 {
        return format!(
            "on paper{at}, but sure only to {} ({} asked).{advice}",
            sure(probability),
            percent(SURENESS_MIN)
        );
    }
    let why = if f.at_s.is_some() {
        format!("when the glass stiffened{at}")
    } else {
        "when the record ended".into()
    };
    format!("no. The front stopped at {depth:.2} mm of {wall:.2} mm {why}.{advice}")
}

fn advice(cure: Cure, scale: Scale) -> String {
    match cure {
        Cure::Longer { seconds, at_c } => {
            let minutes = (seconds / 60.0).ceil();
            let plural = if minutes > 1.5 { "s" } else { "" };
            let at = scale.temperature(at_c);
            format!(" About {minutes:.0} more minute{plural} at {at} would do.")
        }
        Cure::Hotter { ten_k } => {
            let gain = if ten_k.is_finite() {
                let step = scale.difference(10.0);
                format!(": each {step} more give about {} more flow", percent(ten_k))
            } else {
                String::new()
            };
            format!(" The soak is too cold for this glass{gain}.")
        }
    }
}

fn doubt(f: &Finding) -> String {
    let Detail::Sureness(Sureness { doubts, .. }) = f.detail else {
        return "unknown.".into();
    };
    let parts: Vec<String> = doubts
        .iter()
        .filter(|doubt| doubt.share >= 0.005)
        .map(|doubt| format!("{} {}", source(doubt.source), percent(doubt.share)))
        .collect();
    format!(
        "made of {}. The pore radius is an effective one, fitted and not measured: published \
         trials infiltrate slower than their mean pores say. Fit it to a cut and dyed test \
         piece.",
        parts.join(", ")
    )
}

fn source(source: Source) -> &'static str {
    match source {
        Source::PoreRadius => "pore radius",
        Source::Tortuosity => "tortuosity",
        Source::ContactAngle => "contact angle",
        Source::Viscosity => "viscosity",
        Source::Sensor => "sensor tolerance",
        Source::SensorToPiece => "sensor against piece",
        Source::Wall => "wall thickness",
    }
}

fn budget(f: &Finding) -> String {
    let Detail::Budget { probability, left_over_m3, enough_m } = f.detail else {
        return "unknown.".into();
    };
    let ratio = f.measured;
    if f.outcome == Outcome::Pass {
        return format!(
            "{ratio:.2} times the pores of the wall, {:.0} mm³ a piece left over, sure to {}.",
            left_over_m3 * 1e9,
            sure(probability)
        );
    }
    format!(
        "{ratio:.2} times the pores of the wall, enough only to {} ({} asked). Coat {:.2} mm \
         wet.",
        sure(probability),
        percent(SURENESS_MIN),
        enough_m * 1e3
    )
}

fn trapped_gas(f: &Finding) -> String {
    let Detail::Gas { in_air } = f.detail else {
        return "unknown.".into();
    };
    let (share, in_air) = (100.0 * f.measured, 100.0 * in_air);
    match f.outcome {
        Outcome::Pass => format!(
            "at most {share:.1} % of the pores where the back is closed; in air it would be \
             {in_air:.0} %."
        ),
        Outcome::Fail | Outcome::Note => format!(
            "up to {share:.1} % of the pores where the back is closed (at most {:.0} % needs \
             no remark). Infiltrate under vacuum for fewer pores.",
            100.0 * GAS_NOTE_SHARE
        ),
    }
}

fn stress(f: &Finding, scale: Scale) -> String {
    let resistance = if let Detail::Stress { resistance_k, .. } = f.detail {
        format!(" A face {} below the mean would break it.", scale.difference(resistance_k))
    } else {
        String::new()
    };
    format!(
        "{:.2} MPa tension{}; the body bears {:.0} MPa, {STRESS_SAFETY:.0} times that is \
         asked.{resistance}",
        f.measured / 1e6,
        at_minute(f.at_s),
        f.limit * STRESS_SAFETY / 1e6
    )
}

fn melt_back(f: &Finding) -> String {
    if f.detail == Detail::NoGlass {
        return "cannot be judged: the work names no glass on its surface.".into();
    }
    let (left, limit) = (f.measured * 1e6, f.limit * 1e6);
    match f.outcome {
        Outcome::Pass => format!("yes, {left:.2} µm of roughness left, {limit:.1} µm allowed."),
        Outcome::Fail | Outcome::Note => format!(
            "no, {left:.1} µm of roughness left, {limit:.1} µm allowed. Soak longer or hotter."
        ),
    }
}
