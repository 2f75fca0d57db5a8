//! A heating element that breaks in a low ramp or soak, where the stored heat keeps the duty far below full
//! power, on a furnace that does not measure the heater's current.

use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::FaultKind;

use super::{FiringOptions, bench_with, schedule};

/// The furnaces, each with a slow and a fast ramp (K/min).
const FURNACES: [(&str, [f64; 2]); 2] =
    [("lift-vacuum", [4.0, 60.0]), ("teaching-door", [4.0, 10.0])];

/// When the element breaks (s): at the start, in the ramp, and in the soak.
const IN_RAMP_S: [f64; 2] = [1.0, 600.0];
const IN_SOAK_S: f64 = 5400.0;

/// How the firing of a low soak ended, and when it tripped (s). The soak is so patient that only a trip
/// ends it. `mains` is a factor on the voltage.
fn low_soak(
    (furnace, rate): (&str, f64),
    to_c: f64,
    broken_s: Option<f64>,
    mains: f64,
) -> (Option<Ending>, f64) {
    let plan = schedule(&format!(
        "name = \"Low\"\nfurnace = \"../furnaces/{furnace}.toml\"\n\
         [work]\nbody = \"alumina\"\nwall_millimetre = 0.5\narea_square_millimetre = 220\n\
         [[stage]]\nramp = {{ to_celsius = {to_c}, kelvin_per_minute = {rate} }}\n\
         [[stage]]\nsoak = {{ minutes = 240, band_kelvin = 50, patience_minutes = 2880 }}\n"
    ));
    let mut device = plan.profile.furnace.clone();
    device.heater.full_current_ma = None;
    let mut spec = plan.profile.spec.clone();
    spec.mains.actual_v *= mains;
    let broken = |at_s| FaultKind::ElementOpen.at(at_s);
    let faults = broken_s.map(broken).into_iter().collect();
    let options = FiringOptions { faults, ..FiringOptions::default() };
    let fired = bench_with(&plan, &spec, &device, &options).run_to_end(&plan.work);
    let trip = fired.trace.events.iter().find(|e| matches!(e.kind, EventKind::Tripped(_)));
    (fired.ending, trip.map_or(f64::NAN, |event| event.at.millis() as f64 / 1e3))
}

/// Asserts that a break is found within a time (s) on both furnaces at both rates.
#[track_caller]
fn assert_found(to_c: f64, broken_s: f64, within_s: f64) {
    for (furnace, rates) in FURNACES {
        for rate in rates {
            let (ending, tripped_s) = low_soak((furnace, rate), to_c, Some(broken_s), 1.0);
            let took_s = tripped_s - broken_s;
            let case = format!("{furnace}, {rate} K/min to {to_c} °C, broken at {broken_s} s");
            println!("{case}: {took_s:.0} s");
            assert_eq!(ending, Some(Ending::Tripped(Cause::HeaterWithoutEffect)), "{case}");
            assert!(took_s <= within_s, "{case}: {took_s:.0} s");
        }
    }
}

#[test]
fn an_element_that_breaks_in_a_low_ramp_is_found_in_40_minutes() {
    for to_c in [40.0, 60.0, 90.0, 150.0] {
        for broken_s in IN_RAMP_S {
            assert_found(to_c, broken_s, 40.0 * 60.0);
        }
    }
}

/// A furnace at 40 °C cools so slowly that only its own fall shows the break.
#[test]
fn an_element_that_breaks_in_a_low_soak_is_found_once_the_furnace_has_cooled() {
    for (to_c, within_min) in [(40.0, 75.0), (60.0, 40.0), (90.0, 25.0), (150.0, 20.0)] {
        assert_found(to_c, IN_SOAK_S, within_min * 60.0);
    }
}

#[test]
fn a_low_soak_with_weak_mains_does_not_trip() {
    for (furnace, rates) in FURNACES {
        for to_c in [40.0, 90.0, 150.0, 300.0] {
            for mains in [0.7, 0.8] {
                let (ending, tripped_s) = low_soak((furnace, rates[0]), to_c, None, mains);
                let case = format!("{furnace}, {to_c} °C, {mains} of the mains: {tripped_s} s");
                assert_eq!(ending, Some(Ending::Completed), "{case}");
            }
        }
    }
}
