//! The reading goes above the setpoint of the moment while the heater is driven.

use saggar_core::Cause;
use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::furnace::{Furnace, StoredHeat};
use saggar_core::interlock::{Interlock, InterlockInputs};
use saggar_core::sequencer::{Demand, Setpoint};

use super::{AtRest, long_firing, restarts, trips};
use crate::support::{Bench, celsius, furnace, proven_inputs};

/// Overshoot that the bench furnace allows (K).
const ALLOWED_K: f32 = 15.0;

/// Reading less setpoint (K).
fn excess_k(bench: &Bench) -> f32 {
    let status = bench.core.status();
    status
        .reading_c
        .zip(status.setpoint)
        .map_or(0.0, |(reading, setpoint)| reading - setpoint.celsius)
}

/// A table that asks for a hundred times the power, which no guard finds, because it is what was loaded.
fn spoil_table(furnace: &mut Furnace) {
    for point in &mut furnace.heater.feed_forward {
        point.hold_w *= 100.0;
    }
}

#[test]
fn above_setpoint() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.core.corrupt_furnace(spoil_table);
    bench.core.renew_furnace_guard();
    while excess_k(&bench) < ALLOWED_K - 1.0 {
        bench.run(1);
        assert_eq!(bench.tripped(), None, "at {} K", excess_k(&bench));
    }
    trips(&mut bench, Cause::AboveSetpoint, 36, AtRest::Unseen, |_| {});
    bench.core.corrupt_furnace(|data| *data = furnace());
    bench.core.renew_furnace_guard();
    restarts(&mut bench);
}

/// Ticks until the interlock trips at this excess (K), rate of the reading and of the setpoint (K/s), and
/// duty; `None` if it does not in a minute.
fn ticks(
    furnace: &Furnace,
    excess_k: f32,
    rates: (f32, f32),
    commanded_duty: f32,
) -> Option<u32> {
    let mut interlock = Interlock::default();
    let channel = ChannelEstimate {
        celsius: celsius(800.0 + excess_k),
        rate_k_per_s: rates.0,
        worst_case: celsius(800.0 + excess_k),
        is_upper_bound: false,
    };
    let estimate = Estimate { control: Ok(channel), limit: Ok(channel) };
    let mut setpoint = Setpoint::steady(800.0);
    setpoint.rate_k_per_s = rates.1;
    let demand = Demand { firing: true, setpoint: Some(setpoint), ..Demand::default() };
    let inputs =
        InterlockInputs { demand: &demand, commanded_duty, ..proven_inputs(&estimate, 1000.0) };
    (1..600).find(|_| {
        let _ = interlock.evaluate(furnace, &inputs);
        interlock.trip() == Some(Cause::AboveSetpoint)
    })
}

#[test]
fn what_the_element_holds_counts() {
    let mut furnace = furnace();
    // An element that is 1300 K hotter than the muffle at full power, and 40 s behind it.
    furnace.heater.stored_heat =
        StoredHeat { element_j_per_k: 74.0, element_w_per_k4: 8.0e-11, muffle_j_per_k: 300.0 };
    let full = |excess_k, rates| ticks(&furnace, excess_k, rates, 1.0);
    assert_eq!(full(8.0, (0.0, 0.0)), None, "it does not rise");
    assert_eq!(full(8.0, (0.1, 0.0)), None, "it rises by 4 K more");
    assert_eq!(full(8.0, (0.5, 0.0)), Some(31), "it rises by 20 K more");
    assert_eq!(full(8.0, (0.5, 0.5)), None, "the setpoint rises as fast");
    assert_eq!(full(7.0, (2.0, 0.0)), None, "half of what is allowed is free");
    assert_eq!(full(16.0, (0.0, 0.0)), Some(31));
    assert_eq!(full(16.0, (-0.5, 0.0)), Some(31), "it falls while the heater is driven");
    assert_eq!(ticks(&furnace, 16.0, (0.5, 0.0), 0.2), None, "the control has let go");
}

#[test]
fn a_rate_that_is_no_number_counts_as_above() {
    assert_eq!(ticks(&furnace(), 10.0, (f32::NAN, 0.0), 1.0), Some(31));
}
