//! A permit is granted only on proof, whatever the inputs: NaN, infinities, missing channels,
//! contradictory contacts, nonsensical furnace data.

mod check;
mod controller;
mod cycles;
mod exhaustive;
mod inputs;
mod layers;
mod load;
mod proofs;

use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::interlock::InterlockInputs;

use crate::support::{celsius, proven_inputs};

/// A valid channel at this temperature (°C).
fn estimate_at(at: f32) -> ChannelEstimate {
    ChannelEstimate {
        celsius: celsius(at),
        rate_k_per_s: 0.5,
        worst_case: celsius(at + 1.0),
        is_upper_bound: false,
    }
}

/// Inputs with every condition proven, for a programme with this maximum setpoint (°C).
fn healthy(estimate: &Estimate, highest_c: f32) -> InterlockInputs<'_> {
    proven_inputs(estimate, highest_c)
}
