//! Faults of the closure, the vacuum and the clock.

use saggar_core::Cause;

use super::{AtRest, assert_safe, long_firing, recovers, restarts, trips};
use crate::support::{Bench, Tick, ramp, soak, step, under, vacuum};

#[test]
fn closure_open() {
    let cases: [fn(&mut Tick); 3] = [
        |tick| tick.inputs.closure.shut = false,
        // Both contacts closed prove nothing.
        |tick| tick.inputs.closure.open = true,
        |tick| (tick.inputs.closure.shut, tick.inputs.closure.open) = (false, true),
    ];
    for spoil in cases {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        let out = bench.tick(spoil);
        assert_eq!(out.heater_cycles, 0, "heat with the chamber open");
        assert_eq!(bench.tripped(), None, "a contact may bounce");
        bench.run(5);
        trips(&mut bench, Cause::ClosureOpen, 3, AtRest::Seen, spoil);
        recovers(&mut bench, Cause::ClosureOpen);
    }
}

#[test]
fn vacuum_late() {
    let steps = [under(ramp(900, 30), vacuum(810)), step(soak(600))];
    let cases: [fn(&mut Tick); 2] = [
        // A leak as large as the pump, and a gauge that does not answer.
        |tick| tick.inputs.pressure_pa = Some(101_325),
        |tick| tick.inputs.pressure_pa = None,
    ];
    for spoil in cases {
        let mut bench = Bench::firing(800.0, &steps);
        let mut drawing = 0;
        while !bench.out.pump {
            bench.tick(spoil);
            drawing += 1;
            assert!(drawing < 1000, "the pump never ran");
        }
        assert_eq!(bench.tripped(), None);
        trips(&mut bench, Cause::VacuumLate, 302, AtRest::Unseen, spoil);
        restarts(&mut bench);
    }
}

#[test]
fn tick_overrun() {
    for millis in [0, 20, 49, 151, 300, 1000] {
        let mut bench = Bench::firing(800.0, &long_firing(900));
        trips(&mut bench, Cause::TickOverrun, 1, AtRest::Seen, |tick| tick.millis = millis);
        // One on time before the next can be judged.
        recovers(&mut bench, Cause::TickOverrun);
    }
}

/// Ticks that are a little late or early are on time.
#[test]
fn jitter_rides_through() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    for tick in 0..2000u64 {
        bench.tick(|t| t.millis = 50 + (tick * 37) % 101);
    }
    assert_eq!(bench.tripped(), None);
}

/// A clock that runs backwards cannot be trusted.
#[test]
fn clock_running_backwards_trips() {
    use saggar_core::units::Instant;
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.out = bench.core.step(Instant::from_millis(0), &Default::default());
    assert_eq!(bench.tripped(), Some(Cause::TickOverrun));
    assert_safe(&bench);
}
