//! A permit is granted on proof, whatever the facts: NaN, infinities, missing channels,
//! contradictory contacts, furnaces whose numbers make no sense.

mod admit;
mod controller;
mod cycles;
mod facts;
mod load;
mod proofs;

use saggar_core::estimate::{Belief, Estimate};
use saggar_core::interlock::{Asked, Facts};

use crate::support::celsius;

/// A channel that is believed at this temperature (°C).
fn belief(at: f32) -> Belief {
    Belief { celsius: celsius(at), rate_k_per_s: 0.5, worst: celsius(at + 1.0), at_most: false }
}

/// Everything proven, for a programme that goes to this temperature (°C).
fn healthy(estimate: &Estimate, highest_c: f32) -> Facts<'_> {
    Facts {
        estimate,
        asked: Asked { firing: true, heat: true, highest_c, vacuum_overdue: false },
        commanded: 0.4,
        conducting: Some(true),
        shut: true,
        on_time: true,
        programme_intact: true,
    }
}
