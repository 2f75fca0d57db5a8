//! The operator's buttons: stop always stops, and nothing starts by itself.

use saggar_core::events::EventKind;
use saggar_core::sequencer::{Ending, SequencerState};

use super::{assert_safe, long_firing};
use crate::support::{Bench, Tick};

#[test]
fn stop_acts_in_the_same_tick() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.events();
    let out = bench.tick(|tick| tick.inputs.buttons.stop = true);
    assert!(out.heater_cycles == 0 && !out.contactor && !out.lamp, "{out:?}");
    assert_eq!(bench.core.status().ending, Some(Ending::Stopped));
    assert_eq!(bench.events(), [EventKind::FiringEnded(Ending::Stopped)]);
    for _ in 0..100 {
        bench.run(1);
        assert!(bench.out.heater_cycles == 0 && !bench.out.contactor);
    }
    assert_eq!(bench.tripped(), None, "a stop is no trip");
}

/// A stop button that is stuck down stops, even if it was down at power-up.
#[test]
fn start_is_ignored_while_stop_is_down() {
    let mut bench = Bench::new(800.0, &long_firing(900));
    for index in 0..100 {
        let out = bench.tick(|tick| {
            tick.inputs.buttons.stop = true;
            tick.inputs.buttons.start = index % 10 == 3;
        });
        assert!(out.heater_cycles == 0 && !out.contactor && !out.lamp, "tick {index}");
    }
}

/// Accepting a trip and starting a firing take separate presses.
#[test]
fn confirm_and_start_in_one_tick_start_nothing() {
    let mut bench = Bench::firing(800.0, &long_firing(900));
    bench.tick(|tick| tick.millis = 300);
    bench.run(10);
    bench.tick(|tick| {
        (tick.inputs.buttons.confirm, tick.inputs.buttons.start) = (true, true);
    });
    assert_eq!(bench.tripped(), None);
    for _ in 0..100 {
        bench.run(1);
        assert!(!bench.out.lamp && bench.out.heater_cycles == 0, "started by a confirmation");
    }
}

/// Start acts only when it goes down: a stuck button starts nothing, neither at power-up nor after an
/// accepted trip.
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

/// There is no start without a reading, and none while a trip is latched.
#[test]
fn start_needs_a_reading_and_no_trip() {
    let mut bench = Bench::new(800.0, &long_firing(900));
    bench.tick(|tick| (tick.inputs.buttons.start, tick.inputs.control) = (true, None));
    assert!(matches!(bench.core.state(), SequencerState::Idle));
    let mut bench = Bench::new(200.0, &long_firing(900));
    for _ in 0..20 {
        bench.tick(|tick| tick.inputs.heater_current_ma = Some(10_000));
    }
    assert!(bench.tripped().is_some());
    bench.start();
    assert!(matches!(bench.core.state(), SequencerState::Idle));
}
