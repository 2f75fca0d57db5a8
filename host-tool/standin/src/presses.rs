//! The buttons that were pressed in a firing: which, when, and by whom.

use super::panel::Button;
use saggar_plant::say::tidy;

/// Presses that are kept one by one: nobody reads more.
const KEPT_MAX: usize = 12;

/// Whose press it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hand {
    /// Typed.
    Keyboard,
    /// As planned with `--press`.
    Plan,
    /// The operator's who stands there, `--operator`.
    Operator,
}

/// A press.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pressed {
    /// Which button.
    pub button: Button,
    /// Whose hand.
    pub hand: Hand,
    /// When, since the stand-in came up (ms).
    pub at_ms: u64,
}

/// The presses of a firing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Presses {
    began_ms: u64,
    kept: Vec<Pressed>,
    more: u64,
}

impl Presses {
    /// Notes a press.
    pub(super) fn note(&mut self, pressed: Pressed) {
        if self.kept.len() < KEPT_MAX {
            self.kept.push(pressed);
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    /// The firing began at this time (ms), with the last start that was pressed.
    pub(super) fn began(&mut self, at_ms: u64) {
        self.began_ms = at_ms;
    }

    /// Every press in a phrase.
    pub fn words(&self) -> String {
        let words = |pressed: &Pressed| {
            let button = match pressed.button {
                Button::Start => "start",
                Button::Stop => "stop",
                Button::Confirm => "confirm",
            };
            let by = match pressed.hand {
                Hand::Keyboard => "from the keyboard",
                Hand::Plan => "as planned",
                Hand::Operator => "by the operator",
            };
            let minute = pressed.at_ms.saturating_sub(self.began_ms) as f64 / 60_000.0;
            format!("{button} at minute {} {by}", tidy(minute))
        };
        let mut all: Vec<String> = self.kept.iter().map(words).collect();
        match (all.len(), self.more) {
            (0, _) => all.push("none was pressed".to_owned()),
            (_, 0) => {}
            (_, more) => all.push(format!("and {more} more")),
        }
        all.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn presses_are_told_in_their_order_and_no_more_than_are_read() {
        let mut presses = Presses::default();
        assert_eq!(presses.words(), "none was pressed");
        presses.began(60_000);
        for (button, hand, at_ms) in [
            (Button::Start, Hand::Plan, 59_600),
            (Button::Confirm, Hand::Keyboard, 60_000 + 90_000),
            (Button::Stop, Hand::Operator, 60_000 + 600_000),
        ] {
            presses.note(Pressed { button, hand, at_ms });
        }
        let told = "start at minute 0 as planned, confirm at minute 1.5 from the keyboard, \
                    stop at minute 10 by the operator";
        assert_eq!(presses.words(), told);
        for at_ms in 0..100 {
            let (button, hand) = (Button::Confirm, Hand::Keyboard);
            presses.note(Pressed { button, hand, at_ms: 700_000 + at_ms });
        }
        assert!(presses.words().ends_with(", and 91 more"), "{}", presses.words());
    }
}
