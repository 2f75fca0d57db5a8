//! The buttons of the control panel, planned presses, and the log of the presses of a firing.

use std::str::FromStr;

use saggar_verdict::format::one_decimal;

/// Presses that are listed one by one; the others are counted.
const RECORDED_MAX: usize = 12;

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

    /// The keys and their buttons: "s start, x stop, c confirm".
    pub fn key_help() -> String {
        let each = |(name, letter)| format!("{letter} {name}");
        Self::ALL.map(|button| each(button.name())).join(", ")
    }
}

impl FromStr for Button {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let is_meant = |button: &Self| {
            let (name, letter) = button.name();
            text == name || text == letter
        };
        let button = Self::ALL.into_iter().find(is_meant);
        button.ok_or_else(|| "the buttons are start, stop and confirm".to_owned())
    }
}

/// A planned press of a button.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedPress {
    /// Which.
    pub button: Button,
    /// When, since the stand-in started (s).
    pub at_s: f64,
}

impl FromStr for PlannedPress {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let usage = "give a button and a second, such as start@60";
        let (button, second) = text.split_once('@').ok_or(usage)?;
        let at_s: f64 = second.parse().map_err(|_| usage)?;
        if !(0.0..=864_000.0).contains(&at_s) {
            return Err("give a second from 0 to 864000 (ten days)".to_owned());
        }
        Ok(Self { button: button.parse()?, at_s })
    }
}

/// Who pressed a button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PressSource {
    /// The user at the keyboard.
    Typed,
    /// As planned with `--press`.
    Planned,
    /// By the simulated operator, `--operator`.
    Operator,
    /// No button: a client with the key ordered a stop.
    Client,
}

/// A press that was made, or a stop that a client ordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecordedPress {
    /// Which button.
    pub button: Button,
    /// By whom.
    pub source: PressSource,
    /// When, since the stand-in started (ms).
    pub at_ms: u64,
}

/// The presses of one firing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PressLog {
    /// When the firing started, if one did.
    started_ms: Option<u64>,
    recorded: Vec<RecordedPress>,
    /// Presses beyond the first ones, counted only.
    omitted: u64,
}

impl PressLog {
    /// Adds a press.
    pub(super) fn record(&mut self, pressed: RecordedPress) {
        if self.recorded.len() < RECORDED_MAX {
            self.recorded.push(pressed);
        } else {
            self.omitted = self.omitted.saturating_add(1);
        }
    }

    /// Whether a firing started with these presses.
    pub(super) const fn has_started(&self) -> bool {
        self.started_ms.is_some()
    }

    /// Notes that the firing started at this time (ms).
    pub(super) fn mark_start(&mut self, at_ms: u64) {
        self.started_ms = Some(at_ms);
    }

    /// All presses in one phrase.
    pub fn summary(&self) -> String {
        let began_ms = self.started_ms.unwrap_or(0);
        let words = |pressed: &RecordedPress| {
            let (button, _) = pressed.button.name();
            let by = match pressed.source {
                PressSource::Typed => "from the keyboard",
                PressSource::Planned => "as planned",
                PressSource::Operator => "by the operator",
                PressSource::Client => "over the link, by a client with the key",
            };
            let minute = pressed.at_ms.saturating_sub(began_ms) as f64 / 60_000.0;
            format!("{button} at minute {} {by}", one_decimal(minute))
        };
        let mut all: Vec<String> = self.recorded.iter().map(words).collect();
        match (all.len(), self.omitted) {
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
    fn the_summary_lists_the_first_presses_in_order_and_counts_the_rest() {
        let mut presses = PressLog::default();
        assert_eq!(presses.summary(), "none was pressed");
        presses.mark_start(60_000);
        for (button, source, at_ms) in [
            (Button::Start, PressSource::Planned, 59_600),
            (Button::Confirm, PressSource::Typed, 60_000 + 90_000),
            (Button::Stop, PressSource::Operator, 60_000 + 600_000),
        ] {
            presses.record(RecordedPress { button, source, at_ms });
        }
        let wanted = "start at minute 0 as planned, confirm at minute 1.5 from the keyboard, \
                    stop at minute 10 by the operator";
        assert_eq!(presses.summary(), wanted);
        for at_ms in 0..100 {
            let (button, source) = (Button::Confirm, PressSource::Typed);
            presses.record(RecordedPress { button, source, at_ms: 700_000 + at_ms });
        }
        assert!(presses.summary().ends_with(", and 91 more"), "{}", presses.summary());
    }
}
