//! Recorded firings, in words: what a recording must have, and how well the simulated furnace follows it.

use super::limits::SIMULATED_SENSOR_MAX_K;
use crate::format::{Scale, at_minute};

/// A simulated furnace that is hotter by less than this (K) is not named: it shows as 0.0 K.
const HOTTER_NAMED_K: f64 = 0.05;

/// Why a recording tells too little of a firing for a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RecordingFlaw {
    /// No firing begins in it.
    NoFiring,
    /// It begins in the middle of the firing.
    MidFiring,
    /// Ticks of the firing are missing after this one.
    Gap(u32),
    /// The device restarted in the firing, after this tick.
    Restart(u32),
    /// It ends, this long after the start (s), before the firing does.
    CutOff(u32),
    /// From this tick on the core answers otherwise than it is recorded.
    Different(u32),
}

impl RecordingFlaw {
    pub(super) fn sentence(self) -> String {
        let again = "Record the next one with `saggar device watch --record`, from before the start to \
                     the end.";
        match self {
            Self::NoFiring => format!("no firing begins in the recording. {again}"),
            Self::MidFiring => format!(
                "the recording begins in the middle of the firing: how furnace and piece were then, \
                 nobody knows. {again}"
            ),
            Self::Gap(after) => format!(
                "ticks of the firing are missing after tick {after}: what the furnace did then is not \
                 recorded. {again}"
            ),
            Self::Restart(after) => format!(
                "the device restarted in the firing, after tick {after}: how furnace and piece cooled \
                 until it went on is not recorded."
            ),
            Self::CutOff(ran_s) => format!(
                "the recording ends{}, and the firing went on. {again}",
                at_minute(Some(f64::from(ran_s)))
            ),
            Self::Different(tick) => format!(
                "the device's core answered otherwise than this tool's from tick {tick} on. Use the tool \
                 that belongs to the device's image."
            ),
        }
    }
}

/// How far the simulated control sensor was from the recorded one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorAgreement {
    /// Root mean square of the difference over the firing (K).
    pub rms_k: f64,
    /// The largest difference (K), positive where the simulated one is hotter, and when (s).
    pub largest_k: f64,
    /// When that was (s).
    pub largest_at_s: f64,
    /// Mean of the difference in the soak in which this mean is largest (K); `None` without a soak.
    pub soak_k: Option<f64>,
    /// Mean of the difference, weighted with the flow of the glass (K); `None` if no glass flowed.
    pub flow_k: Option<f64>,
}

/// The pressure of the simulated chamber beside the recorded gauge, in the soak under vacuum in which they are
/// farthest apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressureAgreement {
    /// Mean of the gauge (Pa).
    pub gauge_pa: f64,
    /// Mean of the simulated chamber (Pa).
    pub simulated_pa: f64,
}

impl SensorAgreement {
    /// How much hotter the simulated furnace was than the recorded one while the glass flowed (K). A colder
    /// one counts as equal, because a doubt earns no credit.
    pub fn hotter_k(self) -> f64 {
        self.flow_k.map_or(0.0, |k| if k <= 0.0 { 0.0 } else { k })
    }

    pub(super) fn sentence(self, believed: bool, scale: Scale) -> String {
        let apart = |k: f64| scale.difference_tenths(k.abs());
        let side = |k: f64| if k < 0.0 { "below" } else { "above" };
        let soak = self.soak_k.map_or_else(String::new, |k| {
            format!(", {} {} it on average in the worst soak", apart(k), side(k))
        });
        let largest = self.largest_k;
        let figures = format!(
            "the simulated control sensor was {} from the recorded one (root mean square), at most {} \
             {} it{}{soak}.",
            apart(self.rms_k),
            apart(largest),
            side(largest),
            at_minute(Some(self.largest_at_s))
        );
        if believed {
            let hotter = self.hotter_k();
            return match hotter >= HOTTER_NAMED_K {
                true => format!(
                    "{figures} It was {} above it while the glass flowed: the confidence counts with \
                     pieces that are colder by this.",
                    apart(hotter)
                ),
                false => figures,
            };
        }
        format!(
            "{figures} More than {} is too much to believe what is computed for the work: the profile \
             does not describe this furnace. Correct its heater and insulation, and replay again.",
            scale.difference(SIMULATED_SENSOR_MAX_K)
        )
    }
}
