//! The interlock alone, with arbitrary inputs, most of them impossible on a real furnace.

use proptest::prelude::*;
use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::furnace::Furnace;
use saggar_core::interlock::{Interlock, InterlockInputs, PermitError};
use saggar_core::sensors::SensorFault;
use saggar_core::sequencer::{Demand, Setpoint};
use saggar_core::{Inputs, Outputs};

use super::{estimate_at, healthy};
use crate::support::{celsius, furnace};

/// Any float, with NaN and infinities often.
pub(super) fn any_float() -> impl Strategy<Value = f32> {
    prop_oneof![
        4 => -100.0f32..2000.0,
        1 => Just(f32::NAN),
        1 => Just(f32::INFINITY),
        1 => Just(f32::NEG_INFINITY),
        1 => prop::num::f32::ANY,
    ]
}

/// A temperature near the limits, or anywhere.
fn any_celsius() -> impl Strategy<Value = f32> {
    prop_oneof![3 => 700.0f32..1300.0, 1 => -f32::MAX..f32::MAX]
}

fn any_channel() -> impl Strategy<Value = Result<ChannelEstimate, SensorFault>> {
    let estimate_at = (any_celsius(), any_celsius(), any_float(), any::<bool>()).prop_map(
        |(value, worst, rate_k_per_s, at_most)| {
            let (celsius, worst) = (celsius(value), celsius(worst));
            Ok(ChannelEstimate {
                celsius,
                rate_k_per_s,
                worst_case: worst,
                is_upper_bound: at_most,
            })
        },
    );
    let fault = prop_oneof![
        Just(SensorFault::Missing),
        Just(SensorFault::Open),
        Just(SensorFault::Implausible)
    ];
    prop_oneof![6 => estimate_at, 1 => fault.prop_map(Err)]
}

/// A furnace in which some numbers may be NaN or infinite.
pub(super) fn any_furnace() -> impl Strategy<Value = Furnace> {
    let odd = || prop_oneof![3 => Just(None), 1 => any_float().prop_map(Some)];
    (odd(), odd(), odd(), odd(), odd(), odd(), 900.0f32..1300.0).prop_map(
        |(overshoot, disagree, slew, rated, hold, capacity, max)| {
            let mut furnace = furnace();
            let limits = &mut furnace.limits;
            limits.furnace_max = celsius(max);
            limits.programme_max = celsius((max - 20.0).min(1180.0));
            limits.overshoot_max_k = overshoot.unwrap_or(limits.overshoot_max_k);
            limits.disagree_max_k = disagree.unwrap_or(limits.disagree_max_k);
            limits.slew_max_k_per_s = slew.unwrap_or(limits.slew_max_k_per_s);
            furnace.heater.rated_w = rated.unwrap_or(furnace.heater.rated_w);
            for point in &mut furnace.heater.feed_forward {
                point.hold_w = hold.unwrap_or(point.hold_w);
                point.heat_capacity_j_per_k = capacity.unwrap_or(point.heat_capacity_j_per_k);
            }
            furnace
        },
    )
}

/// Facts without the estimate, which they borrow.
#[derive(Clone, Debug)]
struct Rest {
    demand: Demand,
    setpoint_max_c: f32,
    commanded: f32,
    raw: Inputs,
    flags: [bool; 4],
}

fn any_rest() -> impl Strategy<Value = Rest> {
    let likely = || prop::bool::weighted(0.9);
    let demand = (likely(), likely(), any_float(), prop::bool::weighted(0.1)).prop_map(
        |(firing, heat, celsius, vacuum_overdue)| Demand {
            firing,
            setpoint: heat.then_some(Setpoint::steady(celsius)),
            vacuum_overdue,
            ..Demand::default()
        },
    );
    let raw = (any::<Option<u32>>(), any::<Option<u8>>(), any::<bool>()).prop_map(
        |(heater_current_ma, mains_crossings, contactor_closed)| Inputs {
            heater_current_ma,
            mains_crossings,
            contactor_closed,
            ..Inputs::default()
        },
    );
    let flags = [likely(), likely(), likely(), likely()];
    (demand, any_float(), any_float(), raw, flags).prop_map(
        |(demand, setpoint_max_c, commanded, raw, flags)| Rest {
            demand,
            setpoint_max_c,
            commanded,
            raw,
            flags,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4096))]

    /// Whatever came before, a permit means that everything was proven in this very tick.
    #[test]
    fn permit_needs_proof(
        furnace in any_furnace(),
        ticks in prop::collection::vec((any_channel(), any_channel(), any_rest()), 1..8),
    ) {
        let mut interlock = Interlock::default();
        for (control, limit, rest) in ticks {
            let estimate = Estimate { control, limit };
            let [shut, on_time, programme_intact, furnace_intact] = rest.flags;
            let inputs = InterlockInputs {
                raw: &rest.raw,
                estimate: &estimate,
                demand: &rest.demand,
                applied: &Outputs::default(),
                setpoint_max_c: rest.setpoint_max_c,
                commanded_duty: rest.commanded,
                shut,
                shut_too_early: false,
                vacuum_lost: false,
                on_time,
                programme_intact,
                furnace_intact,
            };
            let tripped = interlock.trip();
            let judged = interlock.evaluate(&furnace, &inputs);
            if let Some(cause) = tripped {
                prop_assert_eq!(interlock.trip(), Some(cause), "the first cause wins");
                prop_assert_eq!(judged.map(drop), Err(PermitError::Tripped(cause)));
                continue;
            }
            if judged.is_ok() {
                proven(&furnace, &inputs)?;
            }
        }
    }

    /// Healthy inputs do get a permit: the search above is not about nothing.
    #[test]
    fn healthy_inputs_get_a_permit(at in 300.0f32..1100.0, apart in -30.0f32..30.0) {
        let estimate = Estimate { control: Ok(estimate_at(at)), limit: Ok(estimate_at(at + apart)) };
        let inputs = healthy(&estimate, at + 5.0);
        prop_assert!(Interlock::default().evaluate(&furnace(), &inputs).is_ok());
    }
}

/// Said the other way round than the interlock says it: every `is` here must be a true number.
fn proven(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> Result<(), TestCaseError> {
    prop_assert!(inputs.demand.firing && inputs.heats());
    prop_assert!(inputs.shut && inputs.on_time);
    prop_assert!(inputs.programme_intact && inputs.furnace_intact);
    let limits = &furnace.limits;
    for (channel, room) in
        [(&inputs.estimate.control, 0.0), (&inputs.estimate.limit, limits.disagree_max_k)]
    {
        let Ok(estimate_at) = channel else {
            return Err(TestCaseError::fail("a permit without a channel"));
        };
        let worst = f64::from(estimate_at.worst_case.get());
        let ceiling = inputs.setpoint_max_c + limits.overshoot_max_k + room;
        prop_assert!(!ceiling.is_nan(), "a permit under a limit that is no number");
        prop_assert!(worst < f64::from(limits.furnace_max.get()));
        // At its floor a limit channel says nothing about a ceiling below it.
        prop_assert!(worst < f64::from(ceiling) || estimate_at.is_upper_bound);
    }
    let floor = inputs.estimate.control.is_ok_and(|estimate_at| estimate_at.is_upper_bound);
    prop_assert!(!floor, "a sensor at its floor leads");
    Ok(())
}
