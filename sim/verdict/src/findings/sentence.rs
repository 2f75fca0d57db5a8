//! The sentence of each finding.

use super::finding::{Finding, Outcome};
use super::subject::Subject;
use super::wording::Wording;
use super::{
    course_text, infiltration_text, melt_back_text, mismatch_text, surplus_text, treatment_text,
};
use crate::format::{at_minute, energy, hours_and_minutes};

impl Finding {
    /// The finding in a sentence or two for a technician.
    pub fn sentence<'a>(&self, wording: impl Into<Wording<'a>>) -> String {
        let wording = wording.into();
        let Some(doubt) = &self.doubt else {
            return self.as_modelled(wording);
        };
        let modelled = Self { outcome: doubt.modelled, doubt: None, ..self.clone() };
        let says = modelled.as_modelled(wording);
        format!(
            "{} The model, which leaves this out, says: {says}",
            doubt.sentence(wording.scale)
        )
    }

    fn as_modelled(&self, wording: Wording<'_>) -> String {
        let f = self;
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
            Subject::Drying { cut_short } => treatment_text::dry(f, *cut_short),
            Subject::Boiling { lift: None, coated } => {
                treatment_text::stayed_below_boiling(f, *coated)
            }
            Subject::Boiling { lift: Some(lift), coated } => {
                treatment_text::boiled(f, lift, *coated, scale)
            }
            Subject::BurnOff { char_share, advice, cut_short } => {
                treatment_text::burnt_off(f, *char_share, *advice, *cut_short, scale)
            }
            Subject::Infiltration { .. } => infiltration_text::infiltrated(f, scale),
            Subject::Recording(flaw) => flaw.sentence(),
            Subject::SimulatedSensor(agreement) => {
                agreement.sentence(f.outcome != Outcome::NotKnown, scale)
            }
            Subject::Uncoated(why) => why.sentence(scale),
            Subject::Uncertainty(budget) => infiltration_text::uncertainty(budget),
            Subject::CoatBudget { .. } => infiltration_text::budget(f),
            Subject::TrappedGas { in_air, advice } => {
                infiltration_text::trapped_gas(f, *in_air, *advice)
            }
            Subject::Surplus(found) => surplus_text::runs(f, found),
            Subject::Stress { resistance_k, overstressed } => {
                treatment_text::stress(f, *resistance_k, overstressed, wording)
            }
            Subject::Mismatch(found) => mismatch_text::stress(f, found, scale),
            Subject::MeltBack(found) => melt_back_text::levelled(f, *found, scale),
            Subject::SensorMax | Subject::PieceMax => {
                format!("{}{at}.", scale.whole_degrees(f.measured))
            }
            Subject::Overshoot | Subject::SoakBand => {
                let (found, limit) = scale.difference_and_limit(f.measured, f.limit);
                format!("{found} of at most {limit}{at}{}.", wording.location(f.step))
            }
            Subject::PieceOverSetpoint { after_firing } => {
                course_text::piece_over(f, *after_firing, scale)
            }
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
