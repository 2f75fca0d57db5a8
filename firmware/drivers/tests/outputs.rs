//! Lift, door and buttons.

use saggar_core::io::{Buttons, ClosureContacts};
use saggar_drivers::closure::{ClosureActuator, Lift};
use saggar_drivers::contacts::ButtonPins;

use crate::support::Pin;

const MIDWAY: Option<ClosureContacts> = Some(ClosureContacts { shut: false, open: false });
const SHUT: Option<ClosureContacts> = Some(ClosureContacts { shut: true, open: false });
const OPEN: Option<ClosureContacts> = Some(ClosureContacts { shut: false, open: true });
const BOTH: Option<ClosureContacts> = Some(ClosureContacts { shut: true, open: true });

fn lift() -> (ClosureActuator<Pin>, Pin, Pin) {
    let (up, down) = (Pin::default(), Pin::default());
    (ClosureActuator::Lift(Lift::new(up.clone(), down.clone())), up, down)
}

#[test]
fn lift_stops_at_its_end() {
    let (mut closure, to_open, to_shut) = lift();
    for (open, contacts, levels) in [
        (true, SHUT, (true, false)),
        (true, MIDWAY, (true, false)),
        (true, OPEN, (false, false)),
        (true, OPEN, (false, false)),
        (false, OPEN, (false, true)),
        (false, MIDWAY, (false, true)),
        (false, SHUT, (false, false)),
        // Neither end is sure, or nothing is known.
        (true, BOTH, (false, false)),
        (true, None, (false, false)),
        (false, BOTH, (false, false)),
        (false, None, (false, false)),
    ] {
        closure.drive(open, contacts).unwrap();
        assert_eq!((to_open.high.get(), to_shut.high.get()), levels, "{open} {contacts:?}");
    }
}

#[test]
fn lift_rests_one_tick_before_reversing() {
    let (mut closure, to_open, to_shut) = lift();
    closure.drive(true, MIDWAY).unwrap();
    closure.drive(false, MIDWAY).unwrap();
    assert_eq!((to_open.high.get(), to_shut.high.get()), (false, false));
    closure.drive(false, MIDWAY).unwrap();
    assert_eq!((to_open.high.get(), to_shut.high.get()), (false, true));
}

/// Not even if the pin that should go low cannot.
#[test]
fn lift_never_drives_both_pins_high() {
    let (mut closure, to_open, to_shut) = lift();
    closure.drive(true, MIDWAY).unwrap();
    to_open.broken.set(true);
    for _ in 0..5 {
        closure.drive(false, MIDWAY).unwrap_err();
        assert_eq!((to_open.high.get(), to_shut.high.get()), (true, false));
    }
    to_open.broken.set(false);
    to_shut.broken.set(true);
    closure.drive(false, MIDWAY).unwrap_err();
    assert!(!to_open.high.get());
}

#[test]
fn door_lamp_follows_the_request() {
    let lamp = Pin::default();
    let mut closure = ClosureActuator::Door(lamp.clone());
    closure.drive(true, None).unwrap();
    assert!(lamp.high.get());
    closure.drive(false, None).unwrap();
    assert!(!lamp.high.get());
    closure.drive(true, SHUT).unwrap();
    closure.stop().unwrap();
    assert!(!lamp.high.get());
}

/// Start, stop and confirm at rest: start and confirm pulled up, stop closed to ground.
fn buttons() -> (ButtonPins<Pin>, [Pin; 3]) {
    let pins = [Pin::new(true), Pin::new(false), Pin::new(true)];
    let [start, stop, confirm] = pins.clone();
    (ButtonPins::new(start, stop, confirm), pins)
}

fn buttons_are(start: bool, stop: bool, confirm: bool) -> Buttons {
    Buttons { start, stop, confirm }
}

#[test]
fn start_needs_two_ticks_and_stop_none() {
    let (mut buttons, [start, stop, confirm]) = buttons();
    assert_eq!(buttons.read(), buttons_are(false, false, false));
    start.high.set(false);
    confirm.high.set(false);
    assert_eq!(buttons.read(), buttons_are(false, false, false));
    assert_eq!(buttons.read(), buttons_are(true, false, true));
    start.high.set(true);
    assert_eq!(buttons.read(), buttons_are(true, false, true));
    assert_eq!(buttons.read(), buttons_are(false, false, true));
    stop.high.set(true);
    assert_eq!(buttons.read(), buttons_are(false, true, true));
    stop.high.set(false);
    assert_eq!(buttons.read(), buttons_are(false, true, true), "a bounce of the release");
    assert_eq!(buttons.read(), buttons_are(false, false, true));
}

#[test]
fn contact_bounce_is_ignored() {
    let (mut buttons, [start, ..]) = buttons();
    for n in 0..20 {
        start.high.set(n % 2 == 0);
        assert!(!buttons.read().start);
    }
}

#[test]
fn unreadable_buttons_read_as_stop_and_no_start() {
    let (mut buttons, pins) = buttons();
    for pin in &pins {
        pin.high.set(false);
        pin.broken.set(true);
    }
    for _ in 0..5 {
        assert_eq!(buttons.read(), buttons_are(false, true, false));
    }
}
