//! What the chamber, the vacuum and the clock can do wrong.

use saggar_core::Cause;
use saggar_core::programme::Step;

use super::{AtRest, assert_safe, long_firing, recovers, restarts, trips};
use crate::support::{Bench, Tick, ramp, soak, step, vacuum};

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
    let steps = [Step { action: ramp(900, 30), vacuum: Some(vacuum(810)) }, step(soak(600))];
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

/// The instant that goes backwards is a clock that cannot be trusted.
#[test]
fn clock_running_backwards_trips() {
    use saggar_core::units::Instant;
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.out = bench.core.step(Instant::from_millis(0), &Default::default());
    assert_eq!(bench.tripped(), Some(Cause::TickOverrun));
    assert_safe(&bench);
}

/// A button acts when it goes down: one that is stuck starts nothing, neither at power-up nor
/// after a trip that the operator confirms.
#[test]
fn held_start_button_starts_nothing() {
    let hold = |tick: &mut Tick| tick.inputs.buttons.start = true;
    let mut bench = Bench::at_power_up(800.0, &long_firing(900));
    for _ in 0..100 {
        bench.tick(hold);
        assert!(!bench.out.lamp, "started by a button that was down at power-up");
    }
    bench.run(1);
    bench.tick(hold);
    assert!(bench.out.lamp, "not started by a press");
    bench.tick(|tick| (tick.inputs.buttons.start, tick.millis) = (true, 300));
    assert_safe(&bench);
    for _ in 0..20 {
        bench.tick(hold);
    }
    bench.confirm(hold);
    assert_eq!(bench.tripped(), None);
    for _ in 0..100 {
        bench.tick(hold);
        assert!(!bench.out.lamp && bench.out.heater_cycles == 0, "started without a press");
    }
}

/// A trip under vacuum: the chamber is shut off at once, the pump runs on, and air stays out
/// until the reading is below the furnace's limit for it, and out while there is no reading.
#[test]
fn trip_under_vacuum_keeps_air_out_of_a_hot_chamber() {
    let steps = [Step { action: ramp(900, 30), vacuum: Some(vacuum(810)) }, step(soak(600))];
    let mut bench = Bench::firing(800.0, &steps);
    while !bench.out.isolation_valve {
        bench.run(1);
    }
    bench.tick(|tick| tick.millis = 300);
    assert_safe(&bench);
    let mut pumped = 0;
    let mut vented_at = None;
    for _ in 0..36_000 {
        assert!(!bench.out.isolation_valve, "open after the trip");
        pumped += u32::from(bench.out.pump);
        if bench.out.vent_valve {
            vented_at = vented_at.or(Some(bench.celsius));
            assert!(!bench.out.pump, "air let in past a running pump");
        }
        bench.run(1);
    }
    assert!((20..=22).contains(&pumped), "the pump ran on for {pumped} ticks");
    let vented_at = vented_at.expect("air in the end");
    // Five kelvin below the limit of 600 °C, by the hotter channel.
    assert!((590.0..595.5).contains(&vented_at), "air at {vented_at} °C");
    bench.tick(|tick| tick.inputs.control = None);
    assert!(!bench.out.vent_valve, "air let in on no reading");
}
