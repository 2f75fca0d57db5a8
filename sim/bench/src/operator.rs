//! Who stands at the furnace and presses its buttons.

use saggar_core::io::{Buttons, Outputs};

use crate::firmware::Firmware;

/// Time before the start button (ms): the estimate settles.
const WARM_UP_MS: u64 = 2_000;

/// Somebody with three buttons and a display.
pub trait Operator {
    /// The buttons in the coming tick. `now_ms` is the time of the last one since power-up (ms);
    /// `outputs` is what it answered.
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons;

    /// A firing began in the tick of this time (ms).
    fn firing_started(&mut self, _now_ms: u64) {}

    /// Start is pressed once: a firing that does not begin then is over.
    fn starts_once(&self) -> bool {
        false
    }
}

/// Nobody is there; who watches a recording presses nothing.
impl Operator for () {
    fn buttons(&mut self, _: u64, _: &Outputs, _: &impl Firmware) -> Buttons {
        Buttons::default()
    }
}

/// An operator by the book: starts once the readings have settled, and answers what is asked after
/// a while.
#[derive(Clone, Debug, Default)]
pub struct ScriptedOperator {
    answers_after_s: Option<f64>,
    pressed: bool,
    asked_since_ms: Option<u64>,
}

impl ScriptedOperator {
    /// One who takes so long (s) to answer; `None` never answers.
    pub const fn answering(after_s: Option<f64>) -> Self {
        Self { answers_after_s: after_s, pressed: false, asked_since_ms: None }
    }
}

impl Operator for ScriptedOperator {
    #[inline]
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, _: &impl Firmware) -> Buttons {
        if !self.pressed {
            self.pressed = now_ms >= WARM_UP_MS;
            return Buttons { start: self.pressed, ..Buttons::default() };
        }
        if !outputs.buzzer {
            self.asked_since_ms = None;
            return Buttons::default();
        }
        let since = *self.asked_since_ms.get_or_insert(now_ms);
        let waited_s = (now_ms - since) as f64 / 1000.0;
        let confirm = self.answers_after_s.is_some_and(|after| waited_s >= after);
        if confirm {
            // A press, not a held button: the next question is answered in its own time.
            self.asked_since_ms = None;
        }
        Buttons { confirm, ..Buttons::default() }
    }

    fn starts_once(&self) -> bool {
        true
    }
}
