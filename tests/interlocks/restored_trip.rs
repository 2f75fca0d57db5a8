//! A trip that was not accepted before a power failure is latched again.

use saggar_core::Cause;
use saggar_core::events::EventKind;
use saggar_core::io::ClosureContacts;
use saggar_core::programme::Action;
use saggar_core::sensors::ThermocoupleType;

use super::{assert_safe, long_firing, restarts};
use crate::support::{Bench, Tick, image, sample, step};

/// A furnace at this temperature (°C) at power-up, with this trip restored.
fn after(cause: Cause, celsius: f64) -> Bench {
    let mut bench = Bench::at_power_up(celsius, &long_firing(900));
    bench.core.restore_trip(cause);
    bench
}

/// The fault that makes a cause present on an idle furnace; `None` if it cannot be detected there.
fn there(cause: Cause) -> Option<fn(&mut Tick)> {
    match cause {
        Cause::SensorOpen => Some(|tick| tick.inputs.control = None),
        Cause::SensorImplausible => Some(|tick| {
            tick.inputs.limit.as_mut().expect("a sample").emf_nv = i32::MAX;
        }),
        Cause::AboveProgrammeLimit => Some(|tick| reads(tick, 930.0)),
        Cause::AboveFurnaceLimit => Some(|tick| reads(tick, 1230.0)),
        Cause::ChannelsDisagree => Some(|tick| {
            tick.inputs.limit = Some(sample(ThermocoupleType::S, tick.celsius + 60.0));
        }),
        Cause::HeaterStuckOn => Some(|tick| tick.inputs.heater_current_ma = Some(9_000)),
        Cause::ClosureOpen => Some(|tick| tick.inputs.closure.shut = false),
        Cause::TickOverrun => Some(|tick| tick.millis = 400),
        Cause::ClosureStuck => Some(|tick| tick.inputs.closure = ClosureContacts::default()),
        Cause::GaugeImplausible => Some(|tick| tick.inputs.pressure_pa = None),
        // A changed programme is not loaded again; an idle furnace shows nothing of the others.
        Cause::ProgrammeChanged
        | Cause::HeaterWithoutEffect
        | Cause::VacuumLate
        | Cause::AboveSetpoint
        | Cause::FurnaceDataChanged
        | Cause::SensorFrozen
        | Cause::SensorLagging
        | Cause::TerminalsDisagree
        | Cause::ContactorNotFollowing
        | Cause::NoHeaterCurrent
        | Cause::HeaterCurrentWrong
        | Cause::ClockWrong
        | Cause::IsolationStuck
        | Cause::VacuumLost => None,
    }
}

fn reads(tick: &mut Tick, celsius: f64) {
    let sample = Some(sample(ThermocoupleType::S, celsius));
    (tick.inputs.control, tick.inputs.limit) = (sample, sample);
}

#[test]
fn every_trip_survives_a_power_failure() {
    for cause in Cause::ALL {
        let mut bench = after(cause, 700.0);
        assert_eq!(bench.tripped(), Some(cause), "before the first tick");
        for _ in 0..50 {
            bench.run(1);
            assert_safe(&bench);
        }
        bench.start();
        for _ in 0..50 {
            bench.run(1);
            assert_safe(&bench);
            assert_eq!(bench.core.status().step, None, "{}: started", cause.name());
        }
        assert_eq!(bench.tripped(), Some(cause));
        assert_eq!(bench.events(), [], "{}: it was told when it came", cause.name());
        bench.confirm(|_| {});
        assert_eq!(bench.tripped(), None, "{}: gone, and not accepted", cause.name());
        assert_eq!(bench.events(), [EventKind::TripAccepted]);
        for _ in 0..100 {
            bench.run(1);
            assert_eq!(bench.out.heater_cycles, 0, "heat without a start");
        }
        restarts(&mut bench);
    }
}

#[test]
fn a_trip_is_not_accepted_while_its_cause_is_present() {
    let mut seen = 0;
    for cause in Cause::ALL {
        let Some(spoil) = there(cause) else { continue };
        let mut bench = after(cause, 700.0);
        for _ in 0..50 {
            bench.tick(spoil);
        }
        bench.confirm(spoil);
        assert_eq!(bench.tripped(), Some(cause), "{}: accepted", cause.name());
        seen += 1;
    }
    assert_eq!(seen, 10);
}

/// The programme that tripped is not known any more. Without another one, or with one that has no
/// ramp, the furnace's maximum setpoint applies.
#[test]
fn a_programme_trip_without_a_ramp_uses_the_furnace_limit() {
    let cool = [step(Action::Cool { below_mc: 100_000 })];
    for loaded_first in [true, false] {
        let mut bench = Bench::at_power_up(700.0, &cool);
        if !loaded_first {
            bench.core = saggar_core::Controller::new(crate::support::furnace());
        }
        bench.core.restore_trip(Cause::AboveProgrammeLimit);
        // The furnace's limits: 1180 °C and 15 K above.
        let hot = |tick: &mut Tick| reads(tick, 1197.0);
        for _ in 0..50 {
            bench.tick(hot);
        }
        bench.confirm(hot);
        assert_eq!(bench.tripped(), Some(Cause::AboveProgrammeLimit));
        let cooler = |tick: &mut Tick| reads(tick, 1190.0);
        for _ in 0..100 {
            bench.tick(cooler);
        }
        bench.confirm(cooler);
        assert_eq!(bench.tripped(), None);
    }
}

/// Restoring a trip only adds a latch.
#[test]
fn a_restored_trip_changes_no_other_trip_and_no_firing() {
    let mut bench = after(Cause::VacuumLate, 700.0);
    bench.core.restore_trip(Cause::SensorOpen);
    assert_eq!(bench.tripped(), Some(Cause::VacuumLate));
    let mut bench = Bench::firing(700.0, &long_firing(900));
    bench.core.restore_trip(Cause::SensorOpen);
    assert_eq!(bench.tripped(), None);
    bench.run(100);
    assert!(bench.out.heater_cycles != 0, "the firing goes on");
}

/// Loading another programme does not clear the trip.
#[test]
fn loading_a_programme_clears_no_trip() {
    let mut bench = after(Cause::AboveProgrammeLimit, 700.0);
    let hotter = image(&long_firing(1100));
    bench.core.load(hotter.bytes(), &hotter.digest()).unwrap();
    let hot = |tick: &mut Tick| reads(tick, 930.0);
    for _ in 0..50 {
        bench.tick(hot);
    }
    bench.confirm(hot);
    assert_eq!(bench.tripped(), Some(Cause::AboveProgrammeLimit));
}
