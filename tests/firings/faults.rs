//! Faults in the middle of a firing: each assert_trips for the right cause in time, and the furnace stays safe.

use saggar_core::controller::StartError;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_core::units::Celsius;
use saggar_plant::faults::{FaultKind, FurnacePart};
use saggar_verdict::{NotStarted, Wording};

use super::{FiringOptions, example, fire, modelled, schedule};

/// Near the end of the last ramp of the example, under vacuum (s).
const SOAK_S: f64 = 85.0 * 60.0;

/// The highest setpoint of the example (°C).
const SETPOINT_MAX_C: f64 = 1145.0;

fn fire_with_fault(fault: FaultKind, at_s: f64) -> saggar_bench::FiringResult {
    let faults = vec![fault.at(at_s)];
    fire(&example("infiltrate-alumina"), &FiringOptions { faults, ..FiringOptions::default() })
}

/// Asserts that the firing trips for this cause within `within_s` of the fault, without heat afterwards.
#[track_caller]
fn assert_trips(fault: FaultKind, at_s: f64, cause: Cause, within_s: f64) {
    let fired = fire_with_fault(fault, at_s);
    assert_eq!(fired.ending, Some(Ending::Tripped(cause)), "{fault:?}");
    let last = fired.trace.rows.iter().rfind(|row| row.measured.step.is_some());
    let took_s = last.map_or(0.0, |row| row.at_s) - at_s;
    assert!((-1.0..=within_s).contains(&took_s), "{fault:?} took {took_s} s");
    let hot = fired
        .trace
        .rows
        .iter()
        .filter(|row| row.measured.step.is_none() && row.measured.duty > 0.0);
    // The row of the trip may include ticks from before it.
    assert!(hot.count() <= 1, "{fault:?}: heat after the trip");
    let hottest = fired.trace.rows.iter().map(|row| modelled(row).muffle_c).fold(0.0, f64::max);
    assert!(hottest < SETPOINT_MAX_C + 25.0, "{fault:?}: the muffle reached {hottest} °C");
    assert!(!fired.verdict.passed());
}

#[test]
fn a_broken_control_sensor_trips() {
    assert_trips(FaultKind::ControlOpen, SOAK_S, Cause::SensorOpen, 1.0);
}

#[test]
fn a_broken_limit_sensor_trips() {
    assert_trips(FaultKind::LimitOpen, SOAK_S, Cause::SensorOpen, 1.0);
}

#[test]
fn a_shorted_sensor_is_not_taken_for_a_cold_furnace() {
    assert_trips(FaultKind::ControlShort, SOAK_S, Cause::SensorImplausible, 1.0);
}

#[test]
fn the_limit_channel_bounds_the_overheating_by_a_drifting_sensor() {
    // At half a kelvin per minute the soak would end before the drift reaches 60 K, so the drift starts
    // with the firing here.
    let fired = fire_with_fault(FaultKind::ControlDrift, 0.0);
    let muffle = fired.trace.rows.iter().map(|row| modelled(row).muffle_c).fold(0.0, f64::max);
    assert!(muffle < SETPOINT_MAX_C + 25.0 + 60.0, "the limit channel bounds it: {muffle} °C");
}

#[test]
fn a_broken_element_trips() {
    assert_trips(FaultKind::ElementOpen, SOAK_S, Cause::NoHeaterCurrent, 3.0);
}

#[test]
fn a_stuck_switch_is_found_when_no_heat_is_commanded() {
    // The current gives it away in the first second without a command.
    assert_trips(FaultKind::SwitchStuck, SOAK_S, Cause::HeaterStuckOn, 60.0);
}

#[test]
fn an_open_closure_trips() {
    assert_trips(FaultKind::ClosureLost, SOAK_S, Cause::ClosureOpen, 1.0);
}

#[test]
fn a_stopped_pump_trips() {
    assert_trips(FaultKind::PumpDead, 60.0, Cause::VacuumLate, 5400.0);
}

#[test]
fn a_failed_seal_trips() {
    assert_trips(FaultKind::SealLeaks, SOAK_S, Cause::VacuumLost, 20.0);
}

#[test]
fn a_late_tick_trips() {
    assert_trips(FaultKind::TickLate, SOAK_S, Cause::TickOverrun, 3.0);
}

/// Faults that show in the inputs and have no effect as long as no interlock judges these.
const ONLY_INPUTS: [FaultKind; 4] = [
    FaultKind::ContactorWelded,
    FaultKind::AuxiliaryOpen,
    FaultKind::AuxiliaryStuck,
    FaultKind::CurrentDead,
];

/// A fault at minute 0 strikes with the start and not before it, so the firing begins and the fault acts
/// as at any later time.
#[test]
fn every_fault_acts_when_scheduled_at_the_start() {
    let plain = fire(&example("infiltrate-alumina"), &FiringOptions::default());
    let of_a_rehearsal = |fault: &FaultKind| {
        *fault != FaultKind::MainsCut && !fault.needs().is_some_and(FurnacePart::needs_a_device)
    };
    for fault in FaultKind::ALL.into_iter().filter(of_a_rehearsal) {
        for at_s in [0.0, SOAK_S] {
            let fired = fire_with_fault(fault, at_s);
            assert!(fired.not_started.is_none() && fired.ending.is_some(), "{fault:?}@{at_s}");
            assert_ne!(fired.trace, plain.trace, "{fault:?}@{at_s}");
            let seen = !fired.trace.has_same_effects_as(&plain.trace);
            assert!(seen || ONLY_INPUTS.contains(&fault), "{fault:?}@{at_s}");
        }
    }
    let causes = [
        (FaultKind::ControlOpen, Cause::SensorOpen),
        (FaultKind::LimitOpen, Cause::SensorOpen),
        (FaultKind::SwitchStuck, Cause::HeaterStuckOn),
        (FaultKind::ClosureLost, Cause::ClosureOpen),
        (FaultKind::TickLate, Cause::TickOverrun),
    ];
    for (fault, cause) in causes {
        assert_trips(fault, 0.0, cause, 3.0);
    }
}

/// A furnace above its own limit trips before the start button is pressed.
#[test]
fn a_firing_that_did_not_begin_states_the_reason() {
    let plan = schedule(
        "name = \"Hot\"\nfurnace = \"../furnaces/lift-vacuum.toml\"\n[work]\n\
         body = \"alumina\"\nwall_millimetre = 0.5\narea_square_millimetre = 220\n\
         [[stage]]\nramp = { to_celsius = 40, kelvin_per_minute = 5 }\n",
    );
    let mut furnace = plan.profile.spec.clone();
    furnace.ambient_c = 60.0;
    let mut device = plan.profile.furnace.clone();
    device.limits.furnace_max = Celsius::new(50.0).expect("finite");
    device.limits.programme_max = Celsius::new(45.0).expect("finite");
    let fired = super::bench_with(&plan, &furnace, &device, &FiringOptions::default())
        .run_to_end(&plan.work);
    assert_eq!(
        fired.not_started,
        Some(NotStarted(StartError::Tripped(Cause::AboveFurnaceLimit)))
    );
    assert_eq!(fired.ending, None);
    let said = super::finding(&fired.verdict, is!(Ending)).sentence(Wording::default());
    assert_eq!(
        said,
        "the firing did not begin: an interlock had tripped before the start, above furnace limit. \
         Start does nothing until that trip is accepted."
    );
}
