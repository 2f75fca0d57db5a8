//! The whole core with arbitrary sequences of inputs.

use std::sync::atomic::{AtomicU32, Ordering};

use proptest::prelude::*;
use saggar_core::furnace::Furnace;
use saggar_core::io::{Buttons, ClosureContacts, ThermocoupleSample};
use saggar_core::sensors::ThermocoupleType;
use saggar_core::units::Instant;
use saggar_core::{Controller, Inputs};

use super::inputs::any_furnace;
use crate::support::{image, ramp, sample, soak, step};

fn any_sample() -> impl Strategy<Value = Option<ThermocoupleSample>> {
    let wild = (any::<i32>(), any::<i32>(), any::<bool>(), any::<u16>()).prop_map(
        |(emf_nv, cold_junction_mc, open, age_ms)| ThermocoupleSample {
            emf_nv,
            cold_junction_mc,
            open,
            age_ms,
        },
    );
    let sane = (690.0f64..720.0, 0u16..520).prop_map(|(celsius, age_ms)| ThermocoupleSample {
        age_ms,
        ..sample(ThermocoupleType::S, celsius)
    });
    prop_oneof![1 => Just(None), 1 => wild.prop_map(Some), 60 => sane.prop_map(Some)]
}

fn any_inputs() -> impl Strategy<Value = Inputs> {
    let closure = prop_oneof![
        40 => Just((true, false)),
        1 => any::<(bool, bool)>(),
    ]
    .prop_map(|(shut, open)| ClosureContacts { shut, open });
    let pressed = prop::bool::weighted;
    let buttons = (pressed(0.3), pressed(0.01), pressed(0.3))
        .prop_map(|(start, stop, confirm)| Buttons { start, stop, confirm });
    (any_sample(), any_sample(), any::<Option<u32>>(), closure, any::<bool>(), buttons)
        .prop_map(|(control, limit, pressure_pa, closure, contactor_closed, buttons)| Inputs {
            control,
            limit,
            pressure_pa,
            closure,
            contactor_closed,
            heater_current_ma: None,
            mains_crossings: None,
            buttons,
        })
}

fn any_interval() -> impl Strategy<Value = u64> {
    prop_oneof![60 => 60u64..140, 1 => any::<u32>().prop_map(u64::from)]
}

/// Why there must be no heat in a tick with these inputs, judged independently of the core.
fn forbidden(furnace: &Furnace, inputs: &Inputs) -> Option<&'static str> {
    let limits = &furnace.limits;
    if !inputs.closure.proves_shut() {
        return Some("the chamber is not proven shut");
    }
    for channel in [inputs.control, inputs.limit] {
        let Some(sample) = channel else { return Some("a channel is missing") };
        if sample.open || sample.age_ms > 500 {
            return Some("a channel is open or old");
        }
        if !(-10_000..=75_000).contains(&sample.cold_junction_mc) {
            return Some("terminals that hot or cold do not exist");
        }
        // Type S at 1768 °C gives 18.7 mV.
        if !(-1_000_000..=18_800_000).contains(&sample.emf_nv) {
            return Some("no type S gives this voltage");
        }
    }
    if limits.overshoot_max_k.is_nan() || limits.slew_max_k_per_s.is_nan() {
        return Some("a limit is no number");
    }
    None
}

/// Number of ticks with heat in the whole search, to show that the search covers heating at all.
static HEATED: AtomicU32 = AtomicU32::new(0);

/// Whatever the inputs, there is heat only in ticks in which nothing forbids it.
#[test]
fn no_heat_without_proof() {
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig {
        cases: 1024,
        source_file: Some(file!()),
        ..ProptestConfig::default()
    });
    let ticks = prop::collection::vec((any_inputs(), any_interval()), 20..300);
    runner.run(&(any_furnace(), ticks), |(furnace, ticks)| firing(furnace, &ticks)).unwrap();
    let heated = HEATED.load(Ordering::Relaxed);
    assert!(heated > 500, "only {heated} ticks with heat: the search shows nothing");
}

fn firing(furnace: Furnace, ticks: &[(Inputs, u64)]) -> Result<(), TestCaseError> {
    let image = image(&[step(ramp(720, 30)), step(soak(3600))]);
    let mut core = Controller::new(furnace.clone());
    let fit = furnace.check();
    let loaded = core.load(image.bytes(), &image.digest());
    prop_assert_eq!(loaded.is_ok(), fit.is_ok(), "{:?} {:?}", loaded, fit);
    let mut millis = 0u64;
    for (index, (inputs, interval)) in ticks.iter().enumerate() {
        millis = millis.saturating_add(*interval);
        let out = core.step(Instant::from_millis(millis), inputs);
        if out.heater_cycles == 0 {
            continue;
        }
        HEATED.fetch_add(1, Ordering::Relaxed);
        prop_assert_eq!(forbidden(&furnace, inputs), None);
        prop_assert!(index > 0 && (50..=150).contains(interval), "heat on a late tick");
        prop_assert!(out.heater_cycles < 1 << 5, "more cycles than 50 Hz has in a tick");
        prop_assert!(out.contactor, "cycles behind an open contactor");
        prop_assert_eq!(core.status().trip, None);
        let reading = core.status().reading_c.unwrap_or(f32::NAN);
        prop_assert!(reading < furnace.limits.furnace_max.get());
        prop_assert!(reading < 720.0 + furnace.limits.overshoot_max_k);
    }
    Ok(())
}
