//! Faults of the closure and the clock.

use saggar_core::Cause;
use saggar_core::io::ClosureContacts;
use saggar_core::programme::Action;

use super::{AtRest, assert_safe, long_firing, recovers, trips};
use crate::support::{Bench, Tick, image, ramp, step};

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

/// A lift that takes 200 ticks from end to end, and a shut contact that may stick.
struct Lift {
    bench: Bench,
    /// Ticks from its shut end.
    at: u32,
    /// The shut contact is stuck closed.
    stuck: bool,
}

const WAY_TICKS: u32 = 200;

impl Lift {
    /// A firing that opens and shuts the chamber and then heats it; the lift is on its way back, this many ticks
    /// from its shut end.
    fn on_its_way_back(at: u32) -> Self {
        let open = Action::MoveClosure { open: true, dwell_ms: 1000 };
        let shut = Action::MoveClosure { open: false, dwell_ms: 0 };
        let steps = [step(open), step(shut), step(ramp(900, 60))];
        let mut lift = Self { bench: Bench::new(250.0, &steps), at: 0, stuck: false };
        lift.bench.start();
        lift.run_until(|lift| lift.at == WAY_TICKS);
        lift.run_until(|lift| lift.at == at);
        lift
    }

    fn tick(&mut self) {
        let open = self.bench.out.open_closure;
        let there = if open { self.at + 1 } else { self.at.saturating_sub(1) };
        self.at = there.min(WAY_TICKS);
        let contacts =
            ClosureContacts { shut: self.stuck || self.at == 0, open: self.at == WAY_TICKS };
        let out = self.bench.tick(|tick| tick.inputs.closure = contacts);
        assert!(self.at == 0 || out.heater_cycles == 0, "heat into a chamber {} open", self.at);
    }

    /// With the lift open, which the shut contact shows.
    fn press_start(&mut self) {
        let open = ClosureContacts { shut: false, open: true };
        self.bench.tick(|tick| {
            tick.inputs.buttons.start = true;
            tick.inputs.closure = open;
        });
        assert!(self.bench.core.is_firing());
    }

    fn run_until(&mut self, there: impl Fn(&Self) -> bool) {
        for _ in 0..2_000 {
            if there(self) {
                return;
            }
            self.tick();
        }
        panic!("never");
    }
}

/// Before half of the time that it took to open, the lift cannot have arrived.
#[test]
fn a_shut_contact_that_closes_too_early_is_stuck() {
    for at in [199, 190, 150, 105] {
        let mut lift = Lift::on_its_way_back(at);
        lift.stuck = true;
        (0..2).for_each(|_| lift.tick());
        assert_eq!(lift.bench.tripped(), None, "{at}: a contact may bounce");
        lift.tick();
        assert_eq!(lift.bench.tripped(), Some(Cause::ClosureStuck), "{at}");
        (0..300).for_each(|_| lift.tick());
        assert_safe(&lift.bench);
    }
}

/// In the second half it may be a fast lift. There is no heat before it has moved for as long as to open.
#[test]
fn a_shut_contact_that_closes_early_is_not_believed_before_its_time() {
    for at in [95, 50, 10, 1, 0] {
        let mut lift = Lift::on_its_way_back(at);
        lift.stuck = true;
        lift.run_until(|lift| lift.bench.out.heater_cycles > 0);
        assert!(lift.bench.tripped().is_none() && lift.at == 0, "{at}");
    }
}

/// A loose wire flickers, and the firing goes on.
#[test]
fn a_shut_contact_that_flickers_on_the_way_is_no_trip() {
    let mut lift = Lift::on_its_way_back(180);
    lift.stuck = true;
    (0..2).for_each(|_| lift.tick());
    lift.stuck = false;
    lift.run_until(|lift| lift.bench.out.heater_cycles > 0);
    assert_eq!(lift.bench.tripped(), None);
}

/// The lift stays open when a firing is stopped, also on its way, and shuts for the next.
#[test]
fn a_firing_that_begins_with_the_lift_open_knows_its_way() {
    for (stopped_at, stuck_at) in [(200, 199), (200, 120), (120, 199), (120, 120)] {
        let opens = Action::MoveClosure { open: true, dwell_ms: 60_000 };
        let mut lift = Lift { bench: Bench::new(250.0, &[step(opens)]), at: 0, stuck: false };
        lift.bench.start();
        lift.run_until(|lift| lift.at == stopped_at);
        lift.bench.tick(|tick| {
            tick.inputs.buttons.stop = true;
            tick.inputs.closure = ClosureContacts::default();
        });
        lift.run_until(|lift| lift.at == WAY_TICKS);
        (0..50).for_each(|_| lift.tick());
        let image = image(&[step(ramp(900, 60))]);
        lift.bench.core.load(image.bytes(), &image.digest()).unwrap();
        lift.press_start();
        lift.run_until(|lift| lift.at == stuck_at);
        lift.stuck = true;
        (0..3).for_each(|_| lift.tick());
        assert_eq!(lift.bench.tripped(), Some(Cause::ClosureStuck), "{stopped_at} {stuck_at}");
    }
}
