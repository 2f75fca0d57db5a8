//! Contacts and buttons, each wired so that a broken wire is the harmless reading.
//!
//! A contact switches its pin to ground against a pull-up: closed reads low, a broken wire reads
//! as open. Stop alone is a contact that opens when pressed: pressed and broken read high.

use embedded_hal::digital::{InputPin, OutputPin};
use saggar_core::io::Buttons;

/// Ticks for which a button must read the same.
const STEADY_TICKS: u8 = 2;

/// Sets a pin high or low.
///
/// # Errors
/// The pin's.
pub(crate) fn set<O: OutputPin>(pin: &mut O, high: bool) -> Result<(), O::Error> {
    if high { pin.set_high() } else { pin.set_low() }
}

/// A button's state, believed after it was read the same for [`STEADY_TICKS`] ticks.
#[derive(Clone, Copy, Debug, Default)]
struct DebouncedButton {
    pressed: bool,
    against: u8,
}

impl DebouncedButton {
    fn take(&mut self, pressed: bool) -> bool {
        self.against = if pressed == self.pressed { 0 } else { self.against.saturating_add(1) };
        if self.against >= STEADY_TICKS {
            self.against = 0;
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
    start_is: DebouncedButton,
    stop_is: DebouncedButton,
    confirm_is: DebouncedButton,
}

impl<I: InputPin> ButtonPins<I> {
    /// Start and confirm close to ground when pressed; stop opens.
    pub fn new(start: I, stop: I, confirm: I) -> Self {
        let rest = DebouncedButton::default();
        Self { start, stop, confirm, start_is: rest, stop_is: rest, confirm_is: rest }
    }

    /// Once a tick. A press of stop is believed at once, everything else after two ticks. A pin
    /// that cannot be read is stop pressed, start and confirm not.
    pub fn read(&mut self) -> Buttons {
        let start = self.start.is_low().unwrap_or(false);
        let stop = self.stop.is_high().unwrap_or(true);
        let confirm = self.confirm.is_low().unwrap_or(false);
        if stop {
            self.stop_is = DebouncedButton { pressed: true, against: 0 };
        }
        Buttons {
            start: self.start_is.take(start),
            stop: self.stop_is.take(stop),
            confirm: self.confirm_is.take(confirm),
        }
    }
}
