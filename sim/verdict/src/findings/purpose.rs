//! What a firing is for, and what can be said about it without a coat.

use super::finding::{Finding, Outcome};
use super::subject::Subject;
use super::uncoated::{CLEANING_MAX_C, UncoatedFiring};
use saggar_plant::piece::Piece;
use saggar_plant::spec::{Purpose, WorkSpec};

/// A chamber below this pressure (Pa) is under the vacuum of an infiltration. Ours: no cleaning fire
/// draws one while the work is hot, because its lubricant needs air.
const VACUUM_PA: f64 = 2.0e4;

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
