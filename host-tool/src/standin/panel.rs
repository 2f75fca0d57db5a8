//! The local panel of a stand-in: its buttons, pressed at the keyboard, by a plan, or by an
//! operator who stands there.

use std::io::BufRead as _;
use std::str::FromStr;
use std::sync::mpsc::{Receiver, channel};

use saggar_core::io::Buttons;

/// A press lasts for so many ticks: a button is believed after two.
const HELD_TICKS: u8 = 4;

/// The operator looks at the furnace for so long before start is pressed, and before a question is
/// answered (ms).
const LOOKS_MS: u64 = 3_000;
const ANSWERS_MS: u64 = 30_000;

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

impl FromStr for Button {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        match typed {
            "start" | "s" => Ok(Self::Start),
            "stop" | "x" => Ok(Self::Stop),
            "confirm" | "c" => Ok(Self::Confirm),
            _ => Err("the buttons are start, stop and confirm".to_owned()),
        }
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

/// What the panel sees of the firmware.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// A firing runs.
    pub firing: bool,
    /// The operator is wanted, and nothing has tripped.
    pub asks: bool,
    /// The programme on the display.
    pub programme: Option<[u8; 4]>,
}

/// The panel.
pub struct Panel {
    planned: Vec<Press>,
    keys: Option<Receiver<Button>>,
    operator: Option<Operator>,
    held: Option<(Button, u8)>,
}

/// Somebody who starts what was uploaded and answers what is asked.
#[derive(Debug, Default)]
struct Operator {
    /// The programme that was there before.
    known: Option<[u8; 4]>,
    waits_since_ms: Option<u64>,
}

impl Panel {
    /// A panel. `operator` stands there if true; `keyboard` listens to standard input.
    pub fn new(mut planned: Vec<Press>, operator: bool, keyboard: bool) -> Self {
        planned.sort_by(|a, b| b.at_s.total_cmp(&a.at_s));
        Self {
            planned,
            keys: keyboard.then(keys),
            operator: operator.then(Operator::default),
            held: None,
        }
    }

    /// What is on the display before anything was uploaded is nobody's business.
    pub fn knows(&mut self, programme: Option<[u8; 4]>) {
        if let Some(operator) = &mut self.operator {
            operator.known = programme;
        }
    }

    /// The buttons in the coming tick.
    pub fn buttons(&mut self, now_ms: u64, seen: Seen) -> Buttons {
        if self.held.is_none() {
            self.held = self.next(now_ms, seen).map(|button| (button, HELD_TICKS));
        }
        let Some((button, left)) = self.held else { return Buttons::default() };
        self.held = left.checked_sub(1).map(|left| (button, left));
        if left == 0 {
            return Buttons::default();
        }
        Buttons {
            start: button == Button::Start,
            stop: button == Button::Stop,
            confirm: button == Button::Confirm,
        }
    }

    fn next(&mut self, now_ms: u64, seen: Seen) -> Option<Button> {
        if let Some(key) = self.keys.as_ref().and_then(|keys| keys.try_recv().ok()) {
            return Some(key);
        }
        let due = self.planned.pop_if(|press| press.at_s * 1000.0 <= now_ms as f64);
        due.map(|press| press.button).or_else(|| self.operator.as_mut()?.next(now_ms, seen))
    }
}

impl Operator {
    fn next(&mut self, now_ms: u64, seen: Seen) -> Option<Button> {
        let new = !seen.firing && seen.programme != self.known;
        let (wanted, after_ms) = match (seen.asks && seen.firing, new) {
            (true, _) => (Button::Confirm, ANSWERS_MS),
            (false, true) => (Button::Start, LOOKS_MS),
            (false, false) => {
                self.waits_since_ms = None;
                return None;
            }
        };
        let since = *self.waits_since_ms.get_or_insert(now_ms);
        if now_ms.saturating_sub(since) < after_ms {
            return None;
        }
        self.waits_since_ms = None;
        self.known = seen.programme;
        Some(wanted)
    }
}

/// Buttons by their names or first letters, a line each.
fn keys() -> Receiver<Button> {
    let (sender, receiver) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines().map_while(Result::ok) {
            let Ok(button) = line.trim().to_ascii_lowercase().parse() else { continue };
            if sender.send(button).is_err() {
                return;
            }
        }
    });
    receiver
}
