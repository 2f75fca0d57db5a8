//! The limit channel against everything that was asked for so far, by the interlock alone.

use saggar_core::Cause;
use saggar_core::estimate::Estimate;
use saggar_core::interlock::{Interlock, InterlockInputs};
use saggar_core::io::{Inputs, ThermocoupleSample};
use saggar_core::sequencer::{Demand, Setpoint};

use super::alone::channel;
use crate::support::{PROVEN_DEMAND, furnace, proven_inputs};

/// What trips in four minutes, without heat, by the setpoint and what both channels read in each second (°C).
/// What is judged in a steady furnace only needs more time.
fn trips(of: impl Fn(i32) -> (f32, f32, f32)) -> Option<Cause> {
    trips_if_open(-1, of)
}

/// The same with a chamber whose contact does not prove it shut in this tick.
fn trips_if_open(open_tick: i32, of: impl Fn(i32) -> (f32, f32, f32)) -> Option<Cause> {
    let mut furnace = furnace();
    furnace.heater.full_current_ma = None;
    let mut interlock = Interlock::default();
    for tick in 0..2_400 {
        let (setpoint_c, control_c, limit_c) = of(tick / 10);
        let estimate =
            Estimate { control: Ok(channel(control_c)), limit: Ok(channel(limit_c)) };
        let setpoint = Some(Setpoint::steady(setpoint_c));
        let demand = &Demand { setpoint, ..PROVEN_DEMAND };
        let proven = proven_inputs(&estimate, 900.0);
        // Both codes move, and no current flows.
        let code = Some(ThermocoupleSample { emf_nv: tick, ..ThermocoupleSample::default() });
        let raw =
            &Inputs { control: code, limit: code, heater_current_ma: Some(0), ..*proven.raw };
        let shut = tick != open_tick;
        let now = InterlockInputs { raw, demand, commanded_duty: 0.0, shut, ..proven };
        let _ = interlock.evaluate(&furnace, &now);
    }
    interlock.trip()
}

/// A control channel that reads 29 K less than the limit channel trips if that is above everything that was
/// asked for, and not if more was asked for before.
#[test]
fn a_limit_channel_above_all_that_was_asked_for_trips() {
    assert_eq!(trips(|_| (400.0, 399.0, 428.0)), Some(Cause::ChannelsDisagree));
    let before = |asked_c: f32| {
        trips(move |second| {
            let setpoint_c = if second < 60 { asked_c } else { 380.0 };
            let limit_c = if second < 120 { 399.0 } else { 428.0 };
            (setpoint_c, 399.0, limit_c)
        })
    };
    assert_eq!(before(410.0), None);
    assert_eq!(before(400.0), Some(Cause::ChannelsDisagree));
}

/// After the chamber was open the sensors warm up each at its own pace.
#[test]
fn the_channels_may_be_farther_apart_after_the_chamber_was_open() {
    let apart = |second| (440.0, 399.0, if second < 60 { 399.0 } else { 437.0 });
    assert_eq!(trips(apart), Some(Cause::ChannelsDisagree));
    // In the tick of the check.
    assert_eq!(trips_if_open(599, apart), None);
}
