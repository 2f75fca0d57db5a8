//! The furnace data that the sequencer needs, derived anew in every tick: copies in memory would need a
//! guard of their own.

use crate::furnace::{Closure, Furnace};
use crate::sequencer::SequencerLimits;

/// Time limit for a movement of the lift (ms).
const LIFT_TRAVEL_MAX_MS: u64 = 120_000;

/// Time limit for a person to move the door (ms).
const DOOR_TRAVEL_MAX_MS: u64 = 900_000;

pub(super) fn sequencer_limits(furnace: &Furnace) -> SequencerLimits {
    let limits = &furnace.limits;
    SequencerLimits {
        open_below_c: limits.open_below.get(),
        firing_max_ms: u64::from(limits.firing_max_s).saturating_mul(1000),
        closure_travel_max_ms: match furnace.closure {
            Closure::Lift => LIFT_TRAVEL_MAX_MS,
            Closure::Door => DOOR_TRAVEL_MAX_MS,
        },
        has_vacuum: furnace.vacuum.is_some(),
        has_auxiliary_contact: furnace.heater.auxiliary_contact,
        has_current_sensor: furnace.heater.full_current_ma.is_some(),
    }
}
