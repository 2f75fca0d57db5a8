//! Why a firing without a coat counts as an infiltration, in words.

use crate::format::Scale;
use saggar_plant::piece::HOT_C;

/// Bare work that gets hotter than this (°C) is being infiltrated. Ours: cleaning fires stay well
/// below, and infiltrations of the library's glass go above.
pub(super) const CLEANING_MAX_C: f64 = 1050.0;

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
