//! Where the models end: what makes a finding not known although a model has a figure for it.

use saggar_core::events::Ending;

use super::finding::{Finding, Outcome};
use super::subject::Subject;
use super::summary::FiringSummary;
use crate::format::{Scale, at_minute};
use crate::piece::{APPROACHED_C, Approach, Piece};
use crate::spec::GlassSpec;

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
}

/// The slowest approach at which a glass is known to infiltrate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ApproachBound {
    /// The glass's transition (°C).
    pub transition_c: f64,
    /// The bound (K/min).
    pub slowest_k_min: f64,
    /// It is the library's, which is a choice of ours; `false` if the schedule gives it.
    pub is_ours: bool,
}

impl ApproachBound {
    fn of(approach: &Approach, glass: &GlassSpec) -> Self {
        let (transition_c, slowest_k_min) = (approach.transition_c(), approach.slowest_k_min());
        let ours = GlassSpec::named(&glass.name).map(|glass| glass.slowest_approach_k_min);
        let is_ours =
            ours.is_some_and(|ours_k_min| ours_k_min.total_cmp(&slowest_k_min).is_eq());
        Self { transition_c, slowest_k_min, is_ours }
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
        let whose = if self.is_ours { "a bound of our own" } else { "the schedule's bound" };
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
                     such a way is not known. {SLOW_TRIAL} Ramp faster there.",
                    bound.way(scale),
                    bound.bound(scale)
                )
            }
            Self::NoApproach { hottest_c, bound } => format!(
                "the piece got no hotter than {}, and the glass is known to infiltrate only after a way \
                 {} at {} or more. {SLOW_TRIAL} Soak hotter.",
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
            Self::StillFlowing => {
                "the glass still flowed when the record ended, and may yet come through. \
                                   Record, or cool, until it is stiff."
                    .into()
            }
        }
    }
}

/// Makes *Infiltrated through* not known where the model's outcome does not count. A failure of the
/// model counts, because what the model leaves out would only add to it, unless the record ends too
/// early.
pub(super) fn limit(found: Finding, piece: &Piece, firing: &FiringSummary) -> Finding {
    if !matches!(found.subject, Subject::Infiltration { .. }) {
        return found;
    }
    let unknown = match found.outcome {
        Outcome::Pass => reasons(piece),
        Outcome::Fail if flows_on(piece, firing) => vec![Unknown::StillFlowing],
        Outcome::Fail | Outcome::NotKnown | Outcome::Note => Vec::new(),
    };
    let outcome = if unknown.is_empty() { found.outcome } else { Outcome::NotKnown };
    Finding { outcome, unknown, ..found }
}

/// Why an infiltration that passes is not known.
fn reasons(piece: &Piece) -> Vec<Unknown> {
    let (Some(approach), Some(flow), Some(front)) =
        (&piece.approach, &piece.flow, &piece.front)
    else {
        return Vec::new();
    };
    let bound = ApproachBound::of(approach, flow.glass());
    let slow = match approach.mean_k_min() {
        None => Some(Unknown::NoApproach { hottest_c: piece.hottest.value, bound }),
        Some(k_min) if k_min >= bound.slowest_k_min => None,
        Some(k_min) => Some(Unknown::SlowApproach { k_min, bound }),
    };
    let lubricant = &piece.lubricant;
    let clean_at_s = lubricant.clean_at_s();
    let oily = front.sealed_at_s().filter(|sealed_at_s| {
        lubricant.was_present() && clean_at_s.is_none_or(|clean_at_s| clean_at_s > *sealed_at_s)
    });
    let oily = oily.map(|sealed_at_s| Unknown::LubricantInPores { sealed_at_s, clean_at_s });
    slow.into_iter().chain(oily).collect()
}

/// Whether the front may go on after the end of the record of a firing that ran to its end.
fn flows_on(piece: &Piece, firing: &FiringSummary) -> bool {
    let (Some(flow), Some(front)) = (&piece.flow, &piece.front) else { return false };
    let stopped = front.through_at_s().or(front.coat_used_up_at_s()).is_some();
    firing.ending == Some(Ending::Completed)
        && flow.per_pa() > 0.0
        && flow.stiff_at_s().is_none()
        && !stopped
}
