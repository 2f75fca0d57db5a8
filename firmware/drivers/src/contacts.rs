//! Contacts and buttons, each wired so that a broken wire gives the harmless reading.
//!
//! A contact switches its pin to ground changed_ticks a pull-up: closed reads low, a broken wire reads
//! as open. Stop alone is a contact that opens when pressed: pressed and broken read high.

use embedded_hal::digital::{InputPin, OutputPin};
use saggar_core::io::Buttons;

/// Ticks for which a button must read the same to change its state.
const STEADY_TICKS: u8 = 2;

/// Sets a pin high or low.
///
/// # Errors
/// The pin's error.
pub(crate) fn set<O: OutputPin>(pin: &mut O, high: bool) -> Result<(), O::Error> {
    if high { pin.set_high() } else { pin.set_low() }
}

/// A button whose state changes after [`STEADY_TICKS`] equal readings.
#[derive(Clone, Copy, Debug, Default)]
struct DebouncedButton {
    pressed: bool,
    changed_ticks: u8,
}

impl DebouncedButton {
    fn update(&mut self, pressed: bool) -> bool {
        self.changed_ticks =
            if pressed == self.pressed { 0 } else { self.changed_ticks.saturating_add(1) };
        if self.changed_ticks >= STEADY_TICKS {
            self.changed_ticks = 0;
            self.pressed = pressed;
        }
        self.pressed
    }
}

/// The three buttons.
#[derive(Debug)]
pub struct ButtonPins<I> {
    start: I,
    stop: I,
    confirm: I,
    start_state: DebouncedButton,
    stop_state: DebouncedButton,
    confirm_state: DebouncedButton,
}

impl<I: InputPin> ButtonPins<I> {
    /// Start and confirm close to ground when pressed; stop opens.
    pub fn new(start: I, stop: I, confirm: I) -> Self {
        let rest = DebouncedButton::default();
        Self { start, stop, confirm, start_state: rest, stop_state: rest, confirm_state: rest }
    }

    /// Reads the buttons; once a tick. A press of stop counts at once, everything else after two ticks.
    /// A pin that cannot be read counts as stop pressed, start and confirm not.
    pub fn read(&mut self) -> Buttons {
        let start = self.start.is_low().unwrap_or(false);
        let stop = self.stop.is_high().unwrap_or(true);
        let confirm = self.confirm.is_low().unwrap_or(false);
        if stop {
            self.stop_state = DebouncedButton { pressed: true, changed_ticks: 0 };
        }
        Buttons {
            start: self.start_state.update(start),
            stop: self.stop_state.update(stop),
            confirm: self.confirm_state.update(confirm),
        }
    }
}
