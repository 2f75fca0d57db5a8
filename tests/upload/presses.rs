//! A press of start or confirm that has no effect leaves the reason for a display.

use saggar_core::Cause;
use saggar_core::controller::StartError;
use saggar_core::programme::Action;
use saggar_device::PressError;

use super::support::{Bed, first_programme, second_programme, settings};
use crate::support::{image, soak, step};

fn press_start(bed: &mut Bed) -> Option<PressError> {
    bed.press(|buttons| buttons.start = true);
    bed.device.ignored_press().map(|press| press.error)
}

fn press_confirm(bed: &mut Bed) -> Option<PressError> {
    bed.press(|buttons| buttons.confirm = true);
    bed.device.ignored_press().map(|press| press.error)
}

#[test]
fn a_start_that_has_an_effect_leaves_no_reason() {
    let mut bed = Bed::new();
    assert_eq!(press_start(&mut bed), Some(PressError::Unconfirmed));
    assert_eq!(press_confirm(&mut bed), None);
    assert_eq!(press_start(&mut bed), None);
    assert!(bed.device.controller().is_firing());
}

#[test]
fn the_reason_is_kept_with_its_time_until_the_next_press() {
    let mut bed = Bed::new();
    press_start(&mut bed);
    let press = bed.device.ignored_press().expect("refused");
    // `press` lets one more tick pass with the button up.
    assert_eq!(press.at.millis() + 100, bed.now().millis());
    bed.run(50);
    assert_eq!(bed.device.ignored_press(), Some(press));
}

#[test]
fn start_without_a_programme_is_ignored_for_that_reason() {
    let mut bed = Bed::of(&settings(), None);
    assert_eq!(press_start(&mut bed), Some(PressError::NotStarted(StartError::NoProgramme)));
    assert_eq!(press_confirm(&mut bed), Some(PressError::NothingToConfirm));
}

#[test]
fn a_button_that_is_down_at_boot_is_no_press() {
    let mut bed = Bed::boot(Bed::new().chip).expect("boots");
    bed.buttons.start = true;
    bed.run(5);
    assert_eq!(bed.device.ignored_press(), None);
}

#[test]
fn start_with_stop_down_or_without_a_reading_is_ignored_for_that_reason() {
    let mut bed = Bed::new();
    press_confirm(&mut bed);
    bed.press(|buttons| (buttons.start, buttons.stop) = (true, true));
    let ignored = |bed: &Bed| bed.device.ignored_press().map(|press| press.error);
    assert_eq!(ignored(&bed), Some(PressError::StopPressed));
    bed.unplugged = true;
    bed.run(20);
    assert_eq!(press_start(&mut bed), Some(PressError::NotStarted(StartError::NoReading)));
}

#[test]
fn presses_during_a_firing_without_a_question_are_ignored() {
    let mut bed = Bed::new();
    bed.fire();
    assert_eq!(press_start(&mut bed), Some(PressError::FiringRunning));
    assert_eq!(press_confirm(&mut bed), Some(PressError::NothingToConfirm));
}

#[test]
fn a_confirm_that_answers_a_hold_leaves_no_reason() {
    let hold = Action::Hold { timeout_ms: 600_000, continue_on_timeout: false };
    let programme = image(&[step(crate::support::ramp(30, 30)), step(hold), step(soak(60))]);
    let mut bed = Bed::of(&settings(), Some(&programme));
    bed.fire();
    for _ in 0..5000 {
        if bed.tick().buzzer {
            break;
        }
    }
    assert!(bed.out.buzzer, "the hold was not reached");
    assert_eq!(press_confirm(&mut bed), None);
    assert!(!bed.out.buzzer, "the hold was answered");
}

#[test]
fn a_trip_is_named_until_it_can_be_accepted() {
    let mut bed = Bed::new();
    bed.fire();
    bed.unplugged = true;
    bed.run(40);
    let tripped = StartError::Tripped(Cause::SensorOpen);
    assert_eq!(press_start(&mut bed), Some(PressError::NotStarted(tripped)));
    assert_eq!(press_confirm(&mut bed), Some(PressError::CausePersists(Cause::SensorOpen)));
    bed.unplugged = false;
    bed.run(20);
    assert_eq!(press_start(&mut bed), Some(PressError::NotStarted(tripped)));
    assert_eq!(press_confirm(&mut bed), None);
    assert!(bed.tripped().is_none());
}

#[test]
fn a_confirm_in_the_tick_of_a_commit_is_too_early() {
    let mut bed = Bed::of(&settings(), Some(&first_programme()));
    let (mut client, hello) = bed.connect();
    for frame in client.upload(&second_programme(), hello.furnace) {
        bed.exchange(&frame);
    }
    assert_eq!(press_confirm(&mut bed), Some(PressError::TooEarly));
    assert_eq!(press_confirm(&mut bed), None);
}
