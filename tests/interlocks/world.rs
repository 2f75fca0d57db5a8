//! Faults of the closure and the clock.

use saggar_core::Cause;
use saggar_core::io::ClosureContacts;
use saggar_core::programme::Action;

use super::{AtRest, assert_safe, long_firing, recovers, trips};
use crate::support::{Bench, Tick, step};

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
fn closure_stuck() {
    let open = Action::MoveClosure { open: true, dwell_ms: 0 };
    // Between its ends, then shut again: a trip is accepted only once one of the contacts speaks.
    let between: fn(&mut Tick) = |tick| tick.inputs.closure = ClosureContacts::default();
    let mut bench = Bench::new(250.0, &[step(open)]);
    bench.tick(|tick| {
        between(tick);
        tick.inputs.buttons.start = true;
    });
    trips(&mut bench, Cause::ClosureStuck, 1202, AtRest::Seen, between);
    bench.run(10);
    bench.confirm(|tick| tick.inputs.closure = ClosureContacts { shut: true, open: true });
    assert_eq!(bench.tripped(), Some(Cause::ClosureStuck), "both contacts closed");
    bench.run(10);
    bench.confirm(|_| {});
    assert_eq!(bench.tripped(), None);
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
