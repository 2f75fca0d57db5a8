//! Faults of pump, valves, gauge and closure in whole firings: what is found, when, and how long the valve
//! to the pump stays open after the fault.

use std::fmt;

use saggar_bench::FiringResult;
use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_plant::faults::{Fault, FaultKind};

use super::{FiringOptions, example, fire, modelled, setup_with};

/// The faults, at each of these times.
const FAULTS: [FaultKind; 12] = [
    FaultKind::IsolationOpen,
    FaultKind::IsolationShut,
    FaultKind::VentOpen,
    FaultKind::VentShut,
    FaultKind::PumpWeak,
    FaultKind::PumpDead,
    FaultKind::SealLeaks,
    FaultKind::GaugeDead,
    FaultKind::GaugeFrozen,
    FaultKind::GaugeLow,
    FaultKind::ShutStuck,
    FaultKind::ClosureOpened,
];

/// Temperature of the muffle above which air must stay out (°C): the limit for venting.
const NO_AIR_C: f64 = 700.0;

fn fire_with(faults: &[(FaultKind, f64)]) -> FiringResult {
    let faults = faults.iter().map(|(fault, at_s)| fault.at(*at_s));
    let options = FiringOptions { faults: faults.collect(), ..FiringOptions::default() };
    fire(&example("infiltrate-alumina"), &options)
}

/// What a firing shows from its fault on.
struct Course {
    ending: Option<Ending>,
    /// End of the firing (s after the fault).
    ends_s: f64,
    /// Seconds with the valve to the pump commanded open.
    valve_open_s: usize,
    /// Seconds in which a hot chamber was pumped at more than a fifth of the atmosphere.
    hot_air_s: usize,
    /// Seconds of heat with the chamber ajar.
    ajar_heat_s: usize,
}

impl fmt::Display for Course {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { ending, ends_s, valve_open_s, hot_air_s, ajar_heat_s } = self;
        write!(f, "{ending:?} after {ends_s:.0} s; valve open {valve_open_s} s, ")?;
        write!(f, "air through a hot chamber {hot_air_s} s, heat ajar {ajar_heat_s} s")
    }
}

fn course(fired: &FiringResult, at_s: f64) -> Course {
    let after = || fired.trace.rows.iter().filter(|row| row.at_s > at_s);
    let last = after().rfind(|row| row.measured.step.is_some());
    let drawn = || after().filter(|row| row.measured.outputs.isolation_valve);
    let hot_air = drawn().filter(|row| {
        let model = modelled(row);
        model.muffle_c > NO_AIR_C && model.pressure_pa > 20_000.0
    });
    let ajar = after().filter(|row| row.measured.duty > 0.0 && modelled(row).opening > 0.0);
    Course {
        ending: fired.ending,
        ends_s: last.map_or(0.0, |row| row.at_s) - at_s,
        valve_open_s: drawn().count(),
        hot_air_s: hot_air.count(),
        ajar_heat_s: ajar.count(),
    }
}

/// The first second of pumping, and the first after it, in a healthy firing.
fn pumping() -> (f64, f64) {
    let fired = fire_with(&[]);
    let open = |row: &&saggar_bench::trace::Row| row.measured.outputs.isolation_valve;
    let first = fired.trace.rows.iter().find(open).expect("it draws").at_s;
    (first, fired.trace.rows.iter().rfind(open).expect("it draws").at_s)
}

/// Prints a table of every fault before the pump-down, in it, under vacuum, and after it.
#[test]
#[ignore = "prints a table; run it by name"]
fn vacuum_faults() {
    let (first, last) = pumping();
    for fault in FAULTS {
        for at_s in [60.0, first + 2.0, first + 600.0, last + 30.0] {
            let course = course(&fire_with(&[(fault, at_s)]), at_s);
            println!("{:15} {at_s:6.0} s  {course}", fault.name());
        }
    }
    let both = [(FaultKind::ShutStuck, 60.0), (FaultKind::ClosureOpened, first - 600.0)];
    println!("opened by hand, contact stuck: {}", course(&fire_with(&both), first - 600.0));
}

/// Each is found for its own cause, and the valve to the pump does not stay open long.
#[test]
fn pump_valves_and_gauge_are_watched() {
    let (first, last) = pumping();
    let drawn = first + 600.0;
    let tripped = |cause| Some(Ending::Tripped(cause));
    let cases = [
        (FaultKind::IsolationOpen, 60.0, Cause::IsolationStuck, 0),
        (FaultKind::PumpDead, 60.0, Cause::VacuumLate, 21),
        (FaultKind::VentOpen, drawn, Cause::VacuumLost, 15),
        (FaultKind::SealLeaks, drawn, Cause::VacuumLost, 15),
        (FaultKind::GaugeDead, drawn, Cause::GaugeImplausible, 4),
        (FaultKind::GaugeLow, drawn, Cause::GaugeImplausible, 2),
        (FaultKind::VentShut, last + 30.0, Cause::GaugeImplausible, 0),
    ];
    for (fault, at_s, cause, open_s) in cases {
        let course = course(&fire_with(&[(fault, at_s)]), at_s);
        assert_eq!(course.ending, tripped(cause), "{fault:?}: {course}");
        assert!(course.valve_open_s <= open_s, "{fault:?}: {course}");
    }
}

/// A shut contact that was stuck before the firing is asked about, and the operator has to look.
#[test]
fn a_stuck_shut_contact_is_asked_about_before_the_firing() {
    let plan = example("infiltrate-alumina");
    let asked = |faults: Vec<Fault>| {
        let options = FiringOptions { faults, ..FiringOptions::default() };
        let mut bench = setup_with(&plan, &options).bench(()).expect("a bench");
        let mut asked = false;
        while !bench.world().is_started() {
            assert_eq!(bench.step(), Ok(true));
            let kinds = bench.events().iter().map(|event| event.kind);
            asked |= kinds.into_iter().any(|kind| kind == EventKind::ContactChecked);
        }
        assert_eq!(bench.world().not_started(), None, "the operator looked and started again");
        asked
    };
    let at_s = Fault::BEFORE_START_S;
    assert!(asked(vec![FaultKind::ShutStuck.at(at_s)]));
    assert!(!asked(Vec::new()), "a healthy firing asks nothing");
}
