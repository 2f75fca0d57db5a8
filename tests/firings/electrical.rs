//! Faults of the heater's electrical side and of the clock, on the whole simulated furnace.

use saggar_bench::FiringResult;
use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::FaultKind;

use super::{FiringOptions, bench_with, example, modelled};

/// In the first ramp of the example, and near the end of its last one (s).
const RAMP_S: f64 = 10.0 * 60.0;
const SOAK_S: f64 = 85.0 * 60.0;

/// Fires the example with these faults; `judged` says whether the device's data name the inputs that the
/// watches on contactor, current and clock need.
fn fire_with(faults: &[FaultKind], at_s: f64, judged: bool) -> FiringResult {
    let plan = example("infiltrate-alumina");
    let mut device = plan.profile.furnace.clone();
    if !judged {
        device.heater.full_current_ma = None;
        device.heater.auxiliary_contact = false;
        device.heater.counts_crossings = false;
    }
    let faults = faults.iter().map(|fault| fault.at(at_s)).collect();
    let options = FiringOptions { faults, ..FiringOptions::default() };
    bench_with(&plan, &plan.profile.spec, &device, &options).run_to_end(&plan.work)
}

/// Time and cause of the trip.
fn trip(fired: &FiringResult) -> Option<(f64, Cause)> {
    let start = fired.trace.events.iter().find(|e| e.kind == EventKind::FiringStarted)?;
    fired.trace.events.iter().find_map(|event| {
        let EventKind::Tripped(cause) = event.kind else { return None };
        Some((event.at.since(start.at) as f64 * 1e-3, cause))
    })
}

/// The hottest muffle (°C).
fn hottest_c(fired: &FiringResult) -> f64 {
    fired.trace.rows.iter().map(|row| modelled(row).muffle_c).fold(0.0, f64::max)
}

fn is_weak(fired: &FiringResult) -> bool {
    fired.trace.events.iter().any(|event| event.kind == EventKind::HeaterWeak)
}

/// Asserts that the firing trips for this cause within `within_s` of the fault.
#[track_caller]
fn assert_found(fault: FaultKind, at_s: f64, cause: Cause, within_s: f64) {
    let fired = fire_with(&[fault], at_s, true);
    let (tripped_s, found) = trip(&fired).unwrap_or_else(|| panic!("{fault:?} was not found"));
    assert_eq!(found, cause, "{fault:?}");
    let took_s = tripped_s - at_s;
    assert!((-0.2..=within_s).contains(&took_s), "{fault:?} took {took_s} s");
}

#[test]
fn faults_that_stop_the_current_are_found_in_seconds() {
    // The slow ramp takes a cycle in every tenth tick or so, the fast one some in every tick.
    for (at_s, within_s) in [(0.0, 2.5), (RAMP_S, 14.0), (SOAK_S, 2.0)] {
        assert_found(FaultKind::ElementOpen, at_s, Cause::NoHeaterCurrent, within_s);
        assert_found(FaultKind::CurrentDead, at_s, Cause::NoHeaterCurrent, within_s);
    }
}

#[test]
fn a_contact_that_contradicts_its_command_is_found_in_half_a_second() {
    for at_s in [RAMP_S, SOAK_S] {
        assert_found(FaultKind::ContactorDead, at_s, Cause::ContactorNotFollowing, 0.6);
        assert_found(FaultKind::AuxiliaryOpen, at_s, Cause::ContactorNotFollowing, 0.6);
    }
}

/// Welded while it is commanded closed: found when the heat ends.
#[test]
fn a_welded_contactor_and_a_stuck_contact_are_found_when_the_heat_ends() {
    for fault in [FaultKind::ContactorWelded, FaultKind::AuxiliaryStuck] {
        let fired = fire_with(&[fault], SOAK_S, true);
        let (_, cause) = trip(&fired).expect("found");
        assert_eq!(cause, Cause::ContactorNotFollowing, "{fault:?}");
    }
}

#[test]
fn a_wrong_clock_is_found_in_two_minutes() {
    for fault in [FaultKind::ClockFast, FaultKind::ClockSlow] {
        // By a clock that is fast or slow itself.
        assert_found(fault, RAMP_S, Cause::ClockWrong, 121.0);
    }
}

#[test]
fn a_weak_heater_is_said_and_does_not_end_the_firing() {
    for fault in [FaultKind::SwitchHalf, FaultKind::ElementAged] {
        let fired = fire_with(&[fault], RAMP_S, true);
        assert!(is_weak(&fired), "{fault:?}");
        assert_eq!(trip(&fired), None, "{fault:?}");
    }
    assert!(!is_weak(&fire_with(&[], 0.0, true)));
}

#[test]
#[ignore = "prints what is found with and without the inputs, in minutes"]
fn what_is_found_with_and_without_the_inputs() {
    use FaultKind::*;
    let cases: [&[FaultKind]; 11] = [
        &[],
        &[ContactorWelded],
        &[ContactorDead],
        &[AuxiliaryOpen],
        &[AuxiliaryStuck],
        &[CurrentDead],
        &[SwitchHalf],
        &[ElementAged],
        &[ElementOpen],
        &[ContactorWelded, SwitchStuck],
        &[ClockFast],
    ];
    for faults in cases {
        for at_s in [0.0, RAMP_S, SOAK_S] {
            for judged in [false, true] {
                let fired = fire_with(faults, at_s, judged);
                let found = trip(&fired).map(|(trip_s, cause)| (cause.name(), trip_s - at_s));
                let ended = fired.ending == Some(Ending::Completed);
                println!(
                    "{faults:?} at {at_s} s, {}: {found:.1?}, weak {}, completed {ended}, \
                     hottest {:.0} °C",
                    if judged { "judged" } else { "not judged" },
                    is_weak(&fired),
                    hottest_c(&fired),
                );
            }
        }
    }
}
