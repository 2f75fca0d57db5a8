//! One test a cause, named as the cause is: the whole core on the bench, one thing spoilt.
//!
//! Each is found within a bound, takes the heat away at once, opens the contactor, latches,
//! keeps its name against a second cause, is not accepted while it lasts, and never starts heat
//! again by itself. `tidy` compares these names with `Cause::ALL` and the safety page.

mod accept;
mod air;
mod buttons;
mod flaky;
mod healthy;
mod heater;
mod programme;
mod retrip;
mod sensors;
mod stuck;
mod world;

use saggar_core::Cause;
use saggar_core::events::EventKind;
use saggar_core::programme::Step;
use saggar_core::sequencer::{Ending, SequencerState};

use crate::support::{Bench, Tick, ramp, soak, step};

/// Up at 30 K/min from wherever, and a long soak.
fn long_firing(to_c: i32) -> [Step; 2] {
    [step(ramp(to_c, 30)), step(soak(7200))]
}

/// Whether a cause that is still there can be seen by a furnace at rest.
#[derive(Clone, Copy, PartialEq)]
enum AtRest {
    Seen,
    /// No heat, no sign of it: the operator who confirms has to know.
    Unseen,
}

/// Spoils ticks until the furnace trips, and checks everything that a trip must do. Returns the
/// number of spoilt ticks that it took.
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

    // A second cause comes: the first keeps its name.
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

    // Confirmed while it lasts, once the estimate has settled.
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

/// The cause has gone: latched until confirmed, no heat until started.
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

/// A start press brings the heat back.
fn restarts(bench: &mut Bench) {
    bench.start();
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
