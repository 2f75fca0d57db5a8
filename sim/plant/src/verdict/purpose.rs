//! What a firing is for, and what can be said about it without a coat.

use super::finding::{Finding, Outcome};
use super::subject::Subject;
use crate::format::Scale;
use crate::piece::{HOT_C, Piece};
use crate::spec::{Purpose, WorkSpec};

/// A chamber below this pressure (Pa) is under the vacuum of an infiltration. Ours: no cleaning fire
/// draws one while the work is hot, because its lubricant needs air.
const VACUUM_PA: f64 = 2.0e4;

/// Bare work that gets hotter than this (°C) is being infiltrated. Ours: cleaning fires stay well
/// below, and infiltrations of the library's glass go above.
const CLEANING_MAX_C: f64 = 1050.0;

/// Why a firing of bare work counts as an infiltration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UncoatedFiring {
    /// The schedule says so.
    Stated,
    /// It drew a vacuum while the piece was hot.
    Vacuum {
        /// The lowest pressure (Pa).
        pressure_pa: f64,
    },
    /// The piece got hotter than any cleaning fire.
    Hot {
        /// How hot (°C).
        hottest_c: f64,
    },
}

impl UncoatedFiring {
    pub(super) fn sentence(self, scale: Scale) -> String {
        let why = match self {
            Self::Stated => "the schedule says that this fire infiltrates".to_owned(),
            Self::Vacuum { pressure_pa } => format!(
                "the chamber was at {:.0} hPa while the piece was above {}, as in an infiltration",
                pressure_pa / 100.0,
                scale.whole_degrees(HOT_C)
            ),
            Self::Hot { hottest_c } => format!(
                "the piece got to {}, as in an infiltration (a cleaning fire stays below {})",
                scale.whole_degrees(hottest_c),
                scale.whole_degrees(CLEANING_MAX_C)
            ),
        };
        let cure = match self {
            Self::Stated => "Add [work.coat].",
            Self::Vacuum { .. } | Self::Hot { .. } => {
                "Add [work.coat], or say purpose = \"clean\" under [work]."
            }
        };
        format!(
            "{why}, but the work has no coat, so nothing can be said about the glass. {cure}"
        )
    }
}

/// The finding on a firing that infiltrates, or seems to, but has no coat; `None` for any other.
pub(super) fn uncoated(work: &WorkSpec, piece: &Piece) -> Option<Finding> {
    let why = uncoated_infiltration(work, piece)?;
    let found = Finding::note(Subject::Uncoated(why), f64::NAN, None);
    Some(Finding { outcome: Outcome::NotKnown, ..found })
}

fn uncoated_infiltration(work: &WorkSpec, piece: &Piece) -> Option<UncoatedFiring> {
    if work.coat.is_some() || work.infiltrated {
        return None;
    }
    match work.purpose {
        Some(Purpose::Infiltrate) => return Some(UncoatedFiring::Stated),
        Some(Purpose::Clean | Purpose::MeltBack) => return None,
        None => {}
    }
    // Milling lubricant is what a cleaning fire is for.
    if work.lubricant_share > 0.0 {
        return None;
    }
    let (pressure_pa, hottest_c) = (piece.hot_pressure_min_pa, piece.hottest.value);
    if pressure_pa < VACUUM_PA {
        Some(UncoatedFiring::Vacuum { pressure_pa })
    } else if hottest_c > CLEANING_MAX_C {
        Some(UncoatedFiring::Hot { hottest_c })
    } else {
        None
    }
}
