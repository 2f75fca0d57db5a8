//! Where the models end, in words: why a finding is not known although a model has a figure for it.

use super::recording::PressureAgreement;
use crate::format::{Scale, at_minute};
use saggar_plant::piece::{APPROACHED_C, Approach, Piece};
use saggar_plant::spec::GlassSpec;

/// Why the outcome of a model does not count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unknown {
    /// The piece came to the temperatures of infiltration more slowly than the glass is known to bear.
    SlowApproach {
        /// Mean rate from the transition to [`APPROACHED_C`] (K/min).
        k_min: f64,
        /// The bound, and where the way begins.
        bound: ApproachBound,
    },
    /// The piece never came to these temperatures, and infiltrated all the same.
    NoApproach {
        /// Hottest mean of the piece (°C).
        hottest_c: f64,
        /// The bound, and where the way begins.
        bound: ApproachBound,
    },
    /// The glass entered pores that still held lubricant.
    LubricantInPores {
        /// When glass sealed the surface (s).
        sealed_at_s: f64,
        /// When the lubricant had burnt off (s); `None` if it never had.
        clean_at_s: Option<f64>,
    },
    /// The record ends while the glass still flows.
    StillFlowing,
    /// The simulated furnace is this far (K) from the recorded one.
    OtherFurnace(f64),
    /// The pressure of the simulated chamber is not that of the recorded one.
    OtherPressure(PressureAgreement),
    /// Nothing says how far the simulated furnace is from the recorded one.
    NoReading,
    /// The device has other furnace data than the profile.
    OtherFurnaceData,
}

/// The slowest approach at which a glass is known to infiltrate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ApproachBound {
    /// The glass's transition (°C).
    pub transition_c: f64,
    /// The bound (K/min).
    pub slowest_k_min: f64,
    /// The library's for this glass (K/min), which is a choice of ours.
    pub ours_k_min: f64,
}

impl ApproachBound {
    pub(super) fn of(approach: &Approach, glass: &GlassSpec) -> Self {
        let (transition_c, slowest_k_min) = (approach.transition_c(), approach.slowest_k_min());
        let ours = GlassSpec::named(&glass.name).map(|glass| glass.slowest_approach_k_min);
        Self { transition_c, slowest_k_min, ours_k_min: ours.unwrap_or(f64::NAN) }
    }

    /// The rate of a piece's approach (K/min) with the schedule's bound, if it counts by this bound and would
    /// not by ours.
    pub(super) fn that_alone_passes(piece: &Piece) -> Option<(f64, Self)> {
        let (approach, flow) = (piece.approach.as_ref()?, piece.flow.as_ref()?);
        let (k_min, bound) = (approach.mean_k_min()?, Self::of(approach, flow.glass()));
        (k_min >= bound.slowest_k_min && k_min < bound.ours_k_min).then_some((k_min, bound))
    }

    /// That only the schedule's bound lets this rate pass, after a leading space.
    pub(super) fn passed(self, k_min: f64, scale: Scale) -> String {
        let (found, _) = scale.difference_and_limit(k_min, self.ours_k_min);
        format!(
            " The piece went {} at {found}/min on average: that counts by the schedule's bound, {}, and \
             would not by our own, {}.",
            self.way(scale),
            scale.rate(self.slowest_k_min),
            scale.rate(self.ours_k_min)
        )
    }

    /// The way, in a phrase.
    fn way(self, scale: Scale) -> String {
        format!(
            "from the glass's transition at {} to {}",
            scale.whole_degrees(self.transition_c),
            scale.whole_degrees(APPROACHED_C)
        )
    }

    /// The bound with its origin.
    fn bound(self, scale: Scale) -> String {
        let is_ours = self.ours_k_min.total_cmp(&self.slowest_k_min).is_eq();
        let whose = if is_ours { "a bound of our own" } else { "the schedule's bound" };
        format!("{}, {whose}", scale.rate(self.slowest_k_min))
    }
}

/// What a slow way does, as far as anybody has reported.
const SLOW_TRIAL: &str = "In a published trial a slow ramp infiltrated incompletely, and a preheated \
                          furnace did it.";

impl Unknown {
    pub(super) fn sentence(self, scale: Scale) -> String {
        match self {
            Self::SlowApproach { k_min, bound } => {
                let (found, _) = scale.difference_and_limit(k_min, bound.slowest_k_min);
                format!(
                    "the piece went {} at {found}/min on average, slower than {}: what the glass does on \
                     such a way is not known. {SLOW_TRIAL} Ramp faster there, and well past {}.",
                    bound.way(scale),
                    bound.bound(scale),
                    scale.whole_degrees(APPROACHED_C)
                )
            }
            Self::NoApproach { hottest_c, bound } => format!(
                "the piece got no hotter than {}. The glass is known to infiltrate only if it went {} at no \
                 less than {}. {SLOW_TRIAL} Soak hotter.",
                scale.round_down(hottest_c),
                bound.way(scale),
                bound.bound(scale)
            ),
            Self::LubricantInPores { sealed_at_s, clean_at_s } => {
                let until = clean_at_s.map_or_else(String::new, |_| {
                    format!(", burnt off only{}", at_minute(clean_at_s))
                });
                format!(
                    "glass sealed the surface{} over pores that held lubricant{until}: how much such \
                     pores keep glass out is not known. Burn it off before the glass flows.",
                    at_minute(Some(sealed_at_s))
                )
            }
            Self::OtherFurnace(off_k) => format!(
                "the simulated furnace is {} off the recorded one, see Simulated sensor.",
                scale.difference_tenths(off_k)
            ),
            Self::OtherPressure(pressure) => format!(
                "in a soak under vacuum the recorded gauge read {:.1} hPa on average, and the simulated \
                 chamber had {:.1} hPa. Correct the profile's vacuum, and replay again.",
                pressure.gauge_pa / 100.0,
                pressure.simulated_pa / 100.0
            ),
            Self::NoReading => "the control sensor gave no reading in the firing, so nothing says how far \
                                the simulated furnace is from the recorded one."
                .into(),
            Self::OtherFurnaceData => "the device has other furnace data than the profile, so the simulated \
                                       furnace may be another one. Name the profile of this furnace with \
                                       --furnace."
                .into(),
            Self::StillFlowing => {
                "the glass still flowed when the record ended, and may yet come through. \
                                   Record, or cool, until it is stiff."
                    .into()
            }
        }
    }
}
