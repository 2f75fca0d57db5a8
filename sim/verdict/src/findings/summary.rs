//! The facts about a firing that the verdict uses.

use saggar_core::controller::StartError;
use saggar_core::events::Ending;

use super::advice_limits::AdviceLimits;
use super::late_ramp::LateRamp;
use super::wording::Wording;
use crate::format::{Scale, at_minute, duration};

/// A soak that began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoakSummary {
    /// Its step of the programme, from 0.
    pub step: u8,
    /// Its setpoint (°C).
    pub setpoint_c: f64,
    /// The band that the programme asks for (K).
    pub band_k: f64,
    /// Time per kelvin of the ramp that leads to the setpoint (s/K).
    pub ramp_s_per_k: f64,
    /// Overshoot of the sensor after it first reached the setpoint (K), 0 if there was none.
    pub overshoot_k: f64,
    /// When that was (s).
    pub overshoot_at_s: f64,
    /// The soak from the first reading inside the band on; `None` if there was none.
    pub effective: Option<EffectiveSoak>,
    /// The worst reading outside the band; `None` if the sensor stayed inside.
    pub excursion: Option<BandExcursion>,
}

/// A soak from the moment at which the sensor first was inside its band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EffectiveSoak {
    /// Largest distance of the sensor from the setpoint (K).
    pub deviation_k: f64,
    /// When that was (s).
    pub deviation_at_s: f64,
    /// Sensor minus mean of the piece, averaged (K).
    pub sensor_minus_piece_k: f64,
    /// Lower of the piece's mean and final temperature (°C).
    pub piece_c: f64,
    /// Lowest pressure of the chamber (Pa).
    pub pressure_min_pa: f64,
    /// Duration (s).
    pub seconds: f64,
}

/// The worst reading outside the band of a soak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandExcursion {
    /// Its farthest reading from the setpoint, on the side on which it was for longer (K):
    /// positive above the setpoint.
    pub deviation_k: f64,
    /// When that was (s).
    pub at_s: f64,
}

/// A power cut in a firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interruption {
    /// The step of the programme that it interrupted, from 0.
    pub step: u8,
    /// When it came (s).
    pub at_s: f64,
    /// How long the power was away (s), if that is known.
    pub length_s: Option<f64>,
    /// Last reading before (°C).
    pub reading_c: f64,
    /// How far the reading had fallen when the firing went on, or at the end of the record (K).
    pub fall_k: f64,
    /// A press of start went on with the firing.
    pub resumed: bool,
}

impl Interruption {
    pub(super) fn sentence(self, wording: Wording<'_>) -> String {
        let length = self
            .length_s
            .map_or_else(String::new, |length_s| format!(" for {}", duration(length_s)));
        let fall = wording.scale.difference(self.fall_k.max(0.0));
        let then = if self.resumed {
            format!("The reading had fallen by {fall} when the firing went on.")
        } else {
            format!("The firing did not go on; the reading fell by {fall}.")
        };
        let place = wording.location(Some(self.step));
        format!("the power failed{length}{}{place}. {then}", at_minute(Some(self.at_s)))
    }
}

/// Why a press of start did not begin a firing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotStarted(pub StartError);

impl NotStarted {
    pub(super) fn sentence(self) -> String {
        let why = match self.0 {
            StartError::Tripped(cause) => {
                return format!(
                    "the firing did not begin: an interlock had tripped before the start, {}. Start \
                     does nothing until that trip is accepted.",
                    cause.name()
                );
            }
            StartError::NoProgramme => "no programme was loaded.",
            StartError::NoReading => {
                "when start was pressed, the control sensor gave no reading that can be believed. \
                 Check the sensor and its noise in the furnace profile."
            }
            StartError::TooHot => {
                "the furnace was too hot for a schedule that begins with heat. Let it cool below the \
                 profile's start_below_celsius first."
            }
            StartError::ChannelsDifferCold => {
                "both sensors read a cold furnace, and differed. Check both sensors."
            }
            StartError::TerminalsDiffer => {
                "the terminals of the two sensors differed. Check the cold-junction sensors."
            }
            StartError::ContactUnproven => {
                "the contact that proves the chamber shut was not seen open since the last firing, \
                 and nobody looked and pressed confirm. It may be stuck."
            }
            StartError::NoAirInChamber => {
                "the gauge did not read air when start was pressed. Let air in, and check the gauge."
            }
            StartError::DataChanged => {
                "the data in the controller's memory differed from those that were loaded. Switch it \
                 off and on."
            }
            StartError::AskTwice => {
                "the reading had fallen far since the power cut, and start was pressed only once."
            }
            StartError::FiringOver => {
                "a power cut had interrupted a firing that may not go on, and it was not cleared."
            }
        };
        format!("the firing did not begin: {why}")
    }
}

/// The summary of a firing that a bench records.
#[derive(Clone, Debug, PartialEq)]
pub struct FiringSummary {
    /// How it ended; `None` if it was still running when the record ends.
    pub ending: Option<Ending>,
    /// Why it did not begin; `None` if it did.
    pub not_started: Option<NotStarted>,
    /// From start to end (s).
    pub duration_s: f64,
    /// The power cuts in it, in order.
    pub interruptions: Vec<Interruption>,
    /// Electrical energy (J).
    pub energy_j: f64,
    /// Highest reading of the control sensor (°C); below absolute zero if there was none.
    pub sensor_max_c: f64,
    /// When that was (s).
    pub sensor_max_at_s: f64,
    /// Highest setpoint of the programme (°C); `None` for one without a ramp.
    pub setpoint_max_c: Option<f64>,
    /// The soaks that began, in order.
    pub soaks: Vec<SoakSummary>,
    /// The step of the programme's hottest soak, the first of equals; `None` if it has none.
    pub hottest_soak: Option<u8>,
    /// The steps that changed the temperature, with the tension in each.
    pub stresses: Vec<StepStress>,
    /// The ramps that arrived clearly later than their rate says.
    pub late_ramps: Vec<LateRamp>,
    /// Class tolerance of the control sensor at the soak (K), as a limit and not as a
    /// deviation.
    pub sensor_tolerance_k: f64,
    /// How much hotter the simulated furnace was than the recorded one while the glass flowed (K), never
    /// negative; 0 in a rehearsal.
    pub simulated_hotter_k: f64,
    /// Limits within which advice stays.
    pub limits: AdviceLimits,
}

impl FiringSummary {
    /// It did not run to its end, so advice about its soaks would be meaningless.
    pub(super) fn was_cut_short(&self) -> bool {
        self.ending != Some(Ending::Completed)
    }

    /// When it ended before its last step was done (s); `None` if it did not begin, ran to its end
    /// or was still running when the record ends.
    pub(super) fn cut_short_at_s(&self) -> Option<f64> {
        let ending = self.ending.filter(|ending| *ending != Ending::Completed);
        ending.map(|_| self.duration_s)
    }

    /// The programme's hottest soak, if it counted.
    pub(super) fn hottest(&self) -> Option<(&SoakSummary, &EffectiveSoak)> {
        let hottest = self.soaks.iter().find(|soak| Some(soak.step) == self.hottest_soak)?;
        Some((hottest, hottest.effective.as_ref()?))
    }

    /// The soak that ended the firing because it lost its band.
    pub(super) fn lost(&self) -> Option<(&SoakSummary, &BandExcursion)> {
        let last = self.soaks.last().filter(|_| self.ending == Some(Ending::BandLost))?;
        Some((last, last.excursion.as_ref()?))
    }
}

/// The soak whose band was lost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LostSoak {
    /// Its setpoint (°C).
    pub setpoint_c: f64,
    /// Its band (K).
    pub band_k: f64,
    /// The worst reading outside the band.
    pub excursion: BandExcursion,
}

impl LostSoak {
    /// The direction and size of the excursion, after a leading space.
    pub(super) fn sentence(self, scale: Scale) -> String {
        let away_k = self.excursion.deviation_k;
        let side = if away_k > 0.0 { "above" } else { "below" };
        let (found, limit) = scale.difference_and_limit(away_k.abs(), self.band_k);
        format!(
            " The sensor was up to {found} {side} its {}{}, and the band is {limit}.",
            scale.whole_degrees(self.setpoint_c),
            at_minute(Some(self.excursion.at_s))
        )
    }
}

/// A step that changes the temperature, and the maximum tension of the piece from its start to the start
/// of the next such step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepStress {
    /// The step of the programme, from 0.
    pub step: u8,
    /// Largest tension at a face (Pa).
    pub tension_pa: f64,
    /// The cause of the temperature change.
    pub cause: StressCause,
}

/// The cause of a temperature change in the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StressCause {
    /// A ramp.
    Ramp,
    /// Cooling with the heat off.
    Cooling,
    /// A chamber that opens or shuts.
    Opening,
}
