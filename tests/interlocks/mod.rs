//! One test for each trip cause, named like the cause: the whole core on the bench, with one fault.
//!
//! Each cause is found within its bound, switches the heat off at once, opens the contactor and
//! latches. It is not replaced by a second cause, is not accepted while it is present, and heat never
//! starts again by itself. `tidy` compares these names with `Cause::ALL` and the safety page.

mod accept;
mod air;
mod alone;
mod asked;
mod buttons;
mod channels;
mod clock;
mod contactor;
mod current;
mod flaky;
mod furnace_data;
mod healthy;
mod heater;
mod programme;
mod pumping;
mod restored_trip;
mod self_test;
mod sensors;
mod setpoint;
mod stuck;
mod vacuum;
mod waits;
mod world;

use saggar_core::Cause;
use saggar_core::controller::StartError;
use saggar_core::events::EventKind;
use saggar_core::programme::{Action, Step};
use saggar_core::sequencer::{Ending, SequencerState};

use crate::support::{Bench, Tick, ramp, soak, step};

/// A ramp at 30 K/min from the present temperature, and a long soak.
fn long_firing(to_c: i32) -> [Step; 2] {
    [step(ramp(to_c, 30)), step(soak(7200))]
}

/// In the cooling step of a firing.
fn cooling() -> Bench {
    let steps = [step(ramp(900, 30)), step(soak(60)), step(Action::Cool { below_mc: 100_000 })];
    let mut bench = Bench::firing(890.0, &steps);
    while bench.core.status().step != Some(2) {
        bench.run(1);
        assert_eq!(bench.tripped(), None);
    }
    bench.run(300);
    bench
}

/// Whether an idle furnace can detect that a cause is still present.
#[derive(Clone, Copy, PartialEq)]
enum AtRest {
    Seen,
    /// Without heat there is no sign of it, so the trip is accepted.
    Unseen,
}

/// Applies a fault to every tick until the furnace trips, and checks everything that a trip must do.
/// Returns the number of faulty ticks that it took.
fn trips(
    bench: &mut Bench,
    cause: Cause,
    within: u32,
    at_rest: AtRest,
    mut spoil: impl FnMut(&mut Tick),
) -> u32 {
    bench.events();
    let mut ticks = 0;
    while bench.tripped().is_none() {
        assert!(ticks < within, "{}: not found in {within} ticks", cause.name());
        bench.tick(&mut spoil);
        ticks += 1;
    }
    assert_eq!(bench.tripped(), Some(cause), "after {ticks} ticks");
    println!("{}: {ticks} ticks of at most {within}", cause.name());
    assert_safe(bench);
    assert!(
        matches!(bench.core.state(), SequencerState::Ended(Ending::Tripped(found)) if *found == cause)
    );
    assert!(bench.events().contains(&EventKind::Tripped(cause)));

    // A second cause does not replace the first.
    for _ in 0..50 {
        bench.tick(|tick| {
            spoil(tick);
            tick.inputs.control = None;
            tick.inputs.closure.shut = false;
            tick.millis = 400;
        });
        assert_safe(bench);
    }
    assert_eq!(bench.tripped(), Some(cause));

    // Confirm while the cause is present, once the estimate has settled.
    for _ in 0..30 {
        bench.tick(&mut spoil);
    }
    bench.confirm(&mut spoil);
    match at_rest {
        AtRest::Seen => assert_eq!(bench.tripped(), Some(cause), "accepted while it lasts"),
        AtRest::Unseen => assert_eq!(bench.tripped(), None, "nothing is left to see"),
    }
    assert!(!bench.events().iter().any(|what| matches!(what, EventKind::Tripped(_))));
    ticks
}

/// After the cause is gone: latched until confirmed, no heat until a start.
fn recovers(bench: &mut Bench, cause: Cause) {
    bench.run(300);
    assert_eq!(bench.tripped(), Some(cause), "gone without a confirmation");
    assert_safe(bench);
    bench.start();
    assert_safe(bench);
    bench.confirm(|_| {});
    assert_eq!(bench.tripped(), None, "not accepted though it is gone");
    assert!(bench.events().contains(&EventKind::TripAccepted));
    for _ in 0..100 {
        bench.run(1);
        assert_eq!(bench.out.heater_cycles, 0, "heat without a start");
        assert!(!bench.out.contactor);
    }
    restarts(bench);
}

/// A press on start brings the heat back, once there is air in the chamber.
fn restarts(bench: &mut Bench) {
    for _ in 0..100 {
        bench.start();
        if bench.core.status().start_error != Some(StartError::NoAirInChamber) {
            break;
        }
        bench.run(100);
    }
    let mut heat = 0;
    for _ in 0..600 {
        bench.run(1);
        heat += bench.out.heater_cycles.count_ones();
    }
    assert_eq!(bench.tripped(), None);
    assert!(heat > 0, "no heat after a new start: {:?}", bench.core.status());
}

#[track_caller]
fn assert_safe(bench: &Bench) {
    assert_eq!(bench.out.heater_cycles, 0);
    assert!(!bench.out.contactor);
    assert!(bench.out.buzzer);
}
