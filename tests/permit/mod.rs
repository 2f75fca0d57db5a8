//! A permit is granted on proof, whatever the facts: NaN, infinities, missing channels,
//! contradictory contacts, furnaces whose numbers make no sense.

mod admit;
mod controller;
mod cycles;
mod facts;
mod load;
mod proofs;

use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::interlock::{InterlockInputs, LastDemand};

use crate::support::celsius;

/// A channel that is believed at this temperature (°C).
fn belief(at: f32) -> ChannelEstimate {
    ChannelEstimate {
        celsius: celsius(at),
        rate_k_per_s: 0.5,
        worst_case: celsius(at + 1.0),
        is_upper_bound: false,
    }
}

/// Everything proven, for a programme that goes to this temperature (°C).
fn healthy(estimate: &Estimate, highest_c: f32) -> InterlockInputs<'_> {
    InterlockInputs {
        estimate,
        demand: LastDemand {
            firing: true,
            heat: true,
            setpoint_max_c: highest_c,
            vacuum_overdue: false,
        },
        commanded_duty: 0.4,
        heater_conducting: Some(true),
        shut: true,
        on_time: true,
        programme_intact: true,
    }
}
