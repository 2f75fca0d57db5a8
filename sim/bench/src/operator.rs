//! Operators, who press the buttons of the furnace.

use saggar_core::controller::{Bookmark, StartError};
use saggar_core::io::{Buttons, Outputs};

use crate::firmware::Firmware;

/// Time before start is pressed (ms), so that the temperature estimate settles.
const WARM_UP_MS: u64 = 2_000;

/// Presses the three buttons and sees the display.
pub trait Operator {
    /// The buttons in the next tick. `now_ms` is the time of the last tick since power-up (ms) and
    /// `outputs` are its outputs.
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons;

    /// Called when a firing began, with the time of its tick (ms).
    fn firing_started(&mut self, _now_ms: u64) {}

    /// Whether start is pressed only once, so that a firing that does not begin has ended.
    fn starts_once(&self) -> bool {
        false
    }

    /// Whether it will decide about a firing that a power cut interrupted.
    fn goes_on_after_a_cut(&self) -> bool {
        false
    }
}

/// No operator: presses nothing.
impl Operator for () {
    fn buttons(&mut self, _: u64, _: &Outputs, _: &impl Firmware) -> Buttons {
        Buttons::default()
    }
}

/// A scripted operator: starts once the readings have settled, confirms each hold after a delay, and goes
/// on after the same delay with a firing that a power cut interrupted.
#[derive(Clone, Debug, Default)]
pub struct ScriptedOperator {
    delay_s: Option<f64>,
    pressed: bool,
    hold_since_ms: Option<u64>,
    interrupted_since_ms: Option<u64>,
}

impl ScriptedOperator {
    /// Confirms a hold after this delay (s); `None` never confirms.
    pub const fn answering(delay_s: Option<f64>) -> Self {
        Self { delay_s, pressed: false, hold_since_ms: None, interrupted_since_ms: None }
    }

    /// Goes away: answers nothing from now on, and does not go on after a power cut.
    pub const fn leave(&mut self) {
        self.delay_s = None;
    }

    /// Presses start, and again if the device asks twice; confirm if the firing may not go on.
    fn after_cut(&mut self, now_ms: u64, bookmark: Bookmark) -> Buttons {
        let Some(delay_s) = self.delay_s else { return Buttons::default() };
        let since = *self.interrupted_since_ms.get_or_insert(now_ms);
        let delay_ms = (delay_s * 1000.0) as u64;
        let pressed = now_ms - since >= delay_ms.max(WARM_UP_MS);
        if pressed {
            // A second press comes after the same delay.
            self.interrupted_since_ms = None;
        }
        let over = bookmark.has(Bookmark::OVER);
        Buttons { start: pressed && !over, confirm: pressed && over, ..Buttons::default() }
    }
}

impl Operator for ScriptedOperator {
    #[inline]
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons {
        if self.pressed && firmware.status().start_error == Some(StartError::ContactUnproven) {
            // Looks, finds the chamber shut, and starts again.
            self.pressed = false;
            return Buttons { confirm: true, ..Buttons::default() };
        }
        if let Some(bookmark) = firmware.core().interrupted() {
            return self.after_cut(now_ms, bookmark);
        }
        self.interrupted_since_ms = None;
        if !self.pressed {
            self.pressed = now_ms >= WARM_UP_MS;
            return Buttons { start: self.pressed, ..Buttons::default() };
        }
        if !outputs.buzzer {
            self.hold_since_ms = None;
            return Buttons::default();
        }
        let since = *self.hold_since_ms.get_or_insert(now_ms);
        let waited_s = (now_ms - since) as f64 / 1000.0;
        let confirm = self.delay_s.is_some_and(|delay_s| waited_s >= delay_s);
        if confirm {
            // Press once: the next hold gets its own delay.
            self.hold_since_ms = None;
        }
        Buttons { confirm, ..Buttons::default() }
    }

    fn starts_once(&self) -> bool {
        true
    }

    fn goes_on_after_a_cut(&self) -> bool {
        self.delay_s.is_some()
    }
}
