//! Programmes, their bytes, and the way through them.

mod bytes;
mod corners;
mod findings;
mod walk;

use proptest::prelude::*;
use saggar_core::programme::{Action, STEPS_MAX, Step, VacuumStage};

/// Any step that can be written down, sensible or not.
fn any_step() -> impl Strategy<Value = Step> {
    let action = prop_oneof![
        (any::<i32>(), any::<u32>())
            .prop_map(|(to_mc, rate_mk_per_min)| Action::Ramp { to_mc, rate_mk_per_min }),
        any::<[u32; 3]>().prop_map(|[for_ms, band_mk, patience_ms]| Action::Soak {
            for_ms,
            band_mk,
            patience_ms
        }),
        any::<i32>().prop_map(|below_mc| Action::Cool { below_mc }),
        (any::<bool>(), any::<u32>())
            .prop_map(|(open, stay_ms)| Action::Move { open, stay_ms }),
        (any::<u32>(), any::<bool>())
            .prop_map(|(timeout_ms, go_on)| Action::Ask { timeout_ms, go_on }),
    ];
    let stage = (any::<i32>(), any::<u32>(), any::<u32>())
        .prop_map(|(from_mc, to_pa, within_ms)| VacuumStage { from_mc, to_pa, within_ms });
    (action, prop::option::of(stage)).prop_map(|(action, vacuum)| Step { action, vacuum })
}

/// Any list of steps that fits into a programme.
fn any_steps() -> impl Strategy<Value = Vec<Step>> {
    prop::collection::vec(any_step(), 0..=STEPS_MAX)
}
