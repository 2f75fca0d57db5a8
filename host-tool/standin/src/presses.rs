//! The buttons of a panel, and their presses: those that are planned, and those of a firing, with
//! when it was and by whom.

use std::str::FromStr;

use saggar_plant::format::one_decimal;

/// Presses that are kept one by one: nobody reads more.
const KEPT_MAX: usize = 12;

/// A button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Button {
    /// Starts the programme.
    Start,
    /// Ends the firing.
    Stop,
    /// Answers, or accepts a trip.
    Confirm,
}

impl Button {
    /// All of them.
    const ALL: [Self; 3] = [Self::Start, Self::Stop, Self::Confirm];

    /// Its name, and the letter that stands for it at the keyboard.
    const fn name(self) -> (&'static str, &'static str) {
        match self {
            Self::Start => ("start", "s"),
            Self::Stop => ("stop", "x"),
            Self::Confirm => ("confirm", "c"),
        }
    }

    /// What is typed for each: "s start, x stop, c confirm".
    pub fn letters() -> String {
        let each = |(name, letter)| format!("{letter} {name}");
        Self::ALL.map(|button| each(button.name())).join(", ")
    }
}

impl FromStr for Button {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        let is_meant = |button: &Self| {
            let (name, letter) = button.name();
            typed == name || typed == letter
        };
        let button = Self::ALL.into_iter().find(is_meant);
        button.ok_or_else(|| "the buttons are start, stop and confirm".to_owned())
    }
}

/// A button that is pressed at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Press {
    /// Which.
    pub button: Button,
    /// When, since the stand-in came up (s).
    pub at_s: f64,
}

impl FromStr for Press {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        let usage = "give a button and a second, such as start@60";
        let (button, second) = typed.split_once('@').ok_or(usage)?;
        let at_s: f64 = second.parse().map_err(|_| usage)?;
        if !(0.0..=864_000.0).contains(&at_s) {
            return Err("give a second from 0 to 864000 (ten days)".to_owned());
        }
        Ok(Self { button: button.parse()?, at_s })
    }
}

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
    /// When the firing began, if one did.
    began_ms: Option<u64>,
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

    /// A firing began with them.
    pub(super) const fn has_begun(&self) -> bool {
        self.began_ms.is_some()
    }

    /// The firing began at this time (ms), with the last start that was pressed.
    pub(super) fn began(&mut self, at_ms: u64) {
        self.began_ms = Some(at_ms);
    }

    /// Every press in a phrase.
    pub fn words(&self) -> String {
        let began_ms = self.began_ms.unwrap_or(0);
        let words = |pressed: &Pressed| {
            let (button, _) = pressed.button.name();
            let by = match pressed.hand {
                Hand::Keyboard => "from the keyboard",
                Hand::Plan => "as planned",
                Hand::Operator => "by the operator",
            };
            let minute = pressed.at_ms.saturating_sub(began_ms) as f64 / 60_000.0;
            format!("{button} at minute {} {by}", one_decimal(minute))
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
