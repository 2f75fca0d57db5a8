//! Each condition for a permit by itself. From outside most of them are hidden behind a trip, which finds the
//! same in the same tick: here each must hold alone.

use super::{InterlockInputs, proves_safe};
use crate::demand::{Demand, Setpoint};
use crate::estimate::{ChannelEstimate, Estimate};
use crate::furnace::{Closure, Furnace, Heater, Limits, SensorData, StoredHeat};
use crate::io::{Inputs, Outputs};
use crate::sensors::{SensorFault, ThermocoupleType};
use crate::units::Celsius;

/// A temperature (°C).
pub(super) fn at(celsius: f32) -> Celsius {
    Celsius::new(celsius).unwrap_or(Celsius::from_milli(0))
}

/// A furnace up to 1200 °C, with 15 K of overshoot and 40 K between the channels.
pub(super) fn furnace() -> Furnace {
    Furnace {
        control_sensor: SensorData::new(ThermocoupleType::S),
        limit_sensor: SensorData::new(ThermocoupleType::S),
        limits: Limits {
            furnace_max: at(1200.0),
            programme_max: at(1180.0),
            overshoot_max_k: 15.0,
            ramp_max_k_per_min: 150.0,
            slew_max_k_per_s: 10.0,
            disagree_max_k: 40.0,
            settled_difference_max_k: 20.0,
            start_below: at(1200.0),
            open_below: at(300.0),
            vent_below: at(300.0),
            firing_max_s: 3600,
        },
        heater: Heater {
            rated_w: 1000.0,
            mains_hz: 50,
            conducting_ma: 500,
            full_current_ma: None,
            auxiliary_contact: false,
            counts_crossings: false,
            stored_heat: StoredHeat {
                element_j_per_k: 1.0,
                element_w_per_k4: 1.0e-9,
                muffle_j_per_k: 1.0,
            },
            feed_forward: heapless::Vec::new(),
        },
        gains: heapless::Vec::new(),
        vacuum: None,
        closure: Closure::Lift,
    }
}

/// What a test may spoil.
struct Facts {
    demand: Demand,
    estimate: Estimate,
    /// Shut, on time, programme intact, furnace intact.
    flags: [bool; 4],
    /// Maximum setpoint of the programme (°C).
    setpoint_max_c: f32,
}

/// Whether heat is proven safe in a firing to 900 °C at 880 °C, spoilt like this.
fn proven(spoil: impl FnOnce(&mut Facts)) -> bool {
    let celsius = at(880.0);
    let channel = ChannelEstimate {
        celsius,
        rate_k_per_s: 0.0,
        worst_case: celsius,
        is_upper_bound: false,
    };
    let setpoint = Some(Setpoint::steady(880.0));
    let mut facts = Facts {
        demand: Demand { firing: true, setpoint, ..Demand::default() },
        estimate: Estimate { control: Ok(channel), limit: Ok(channel) },
        flags: [true; 4],
        setpoint_max_c: 900.0,
    };
    spoil(&mut facts);
    let [shut, on_time, programme_intact, furnace_intact] = facts.flags;
    let inputs = InterlockInputs {
        raw: &Inputs::default(),
        estimate: &facts.estimate,
        demand: &facts.demand,
        applied: &Outputs::default(),
        setpoint_max_c: facts.setpoint_max_c,
        commanded_duty: 0.0,
        shut,
        shut_too_early: false,
        vacuum_lost: false,
        on_time,
        programme_intact,
        furnace_intact,
    };
    proves_safe(&furnace(), &inputs)
}

/// Changes a valid channel.
fn change(
    channel: &mut Result<ChannelEstimate, SensorFault>,
    to: impl FnOnce(&mut ChannelEstimate),
) {
    assert!(channel.as_mut().map(to).is_ok());
}

#[test]
fn each_flag_is_needed() {
    assert!(proven(|_| {}));
    assert!(!proven(|facts| facts.demand.firing = false));
    assert!(!proven(|facts| facts.demand.setpoint = None));
    for flag in 0..4 {
        assert!(!proven(|facts| facts.flags[flag] = false), "flag {flag}");
    }
}

#[test]
fn each_limit_of_a_channel_is_needed() {
    let control = |worst, setpoint_max_c| {
        proven(|facts| {
            change(&mut facts.estimate.control, |channel| channel.worst_case = at(worst));
            facts.setpoint_max_c = setpoint_max_c;
        })
    };
    let limit = |worst, setpoint_max_c, is_upper_bound| {
        proven(|facts| {
            change(&mut facts.estimate.limit, |channel| {
                (channel.worst_case, channel.is_upper_bound) = (at(worst), is_upper_bound);
            });
            facts.setpoint_max_c = setpoint_max_c;
        })
    };
    // The ceiling of the programme: 915 °C, and 955 °C for the limit channel.
    assert!(control(914.0, 900.0) && !control(915.0, 900.0));
    assert!(limit(954.0, 900.0, false) && !limit(955.0, 900.0, false));
    // The furnace's, under a ceiling far above it.
    assert!(control(1199.0, 5000.0) && !control(1200.0, 5000.0));
    assert!(limit(1199.0, 5000.0, false) && !limit(1200.0, 5000.0, false));
    // A bound proves nothing of a lower ceiling, and a ceiling that is no number nothing at all.
    assert!(limit(1000.0, 900.0, true) && !limit(1000.0, f32::NAN, true));
    assert!(!control(880.0, f32::NAN) && !limit(880.0, f32::NAN, false));
}

#[test]
fn each_channel_is_needed() {
    assert!(!proven(|facts| facts.estimate.control = Err(SensorFault::Open)));
    assert!(!proven(|facts| facts.estimate.limit = Err(SensorFault::Open)));
    let bound = |channel: &mut ChannelEstimate| channel.is_upper_bound = true;
    assert!(!proven(|facts| change(&mut facts.estimate.control, bound)));
    for reads in [839.0, 921.0] {
        let moved = |channel: &mut ChannelEstimate| channel.celsius = at(reads);
        assert!(!proven(|facts| change(&mut facts.estimate.limit, moved)), "{reads} °C");
    }
}
