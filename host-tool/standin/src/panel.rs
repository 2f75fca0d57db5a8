//! The local panel of a stand-in: its buttons, pressed at the keyboard, by a plan, or by an
//! operator who stands there.

use std::collections::VecDeque;

use saggar_bench::firmware::Firmware;
use saggar_bench::operator::Operator;
use saggar_core::TICK_MS;
use saggar_core::io::{Buttons, Outputs};

use crate::keys::Keys;
use crate::presses::{Button, Hand, Press, Pressed, Presses};

/// A press lasts for so many ticks: a button is believed after two.
const HELD_TICKS: u8 = 4;

/// The operator looks at the furnace for so long before start is pressed, and before a question is
/// answered (ms).
const LOOKS_MS: u64 = 3_000;
const ANSWERS_MS: u64 = 30_000;

/// What the panel sees of the firmware.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Seen {
    /// A firing runs.
    firing: bool,
    /// The operator is wanted, and nothing has tripped.
    asks: bool,
    /// The programme that would run is announced: nobody has confirmed it.
    announced: bool,
    /// Programmes that became the active one since the stand-in came up.
    commits: u16,
}

/// The panel.
pub struct Panel {
    planned: Vec<Press>,
    /// Those of the plan whose time has come.
    due: VecDeque<Button>,
    keys: Option<Keys>,
    operator: Option<Attendant>,
    held: Option<(Button, u8)>,
    /// Start is held, and was pressed, while the programme waits for a confirm.
    start_held: bool,
    start_refused: bool,
    /// What was pressed, from the last start on.
    presses: Presses,
    presses_before: Presses,
}

/// Somebody who starts what was uploaded and answers what is asked.
#[derive(Debug, Default)]
struct Attendant {
    /// Commits of which the programme was started.
    started: u16,
    waits_since_ms: Option<u64>,
}

impl Panel {
    /// A panel. `operator` stands there if true; `keyboard` listens to standard input.
    pub fn new(mut planned: Vec<Press>, operator: bool, keyboard: bool) -> Self {
        planned.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        // The next is taken from the end; two of the same second stay in their order.
        planned.reverse();
        Self {
            planned,
            due: VecDeque::new(),
            keys: keyboard.then(|| Keys::listen(std::io::stdin())),
            operator: operator.then(Attendant::default),
            held: None,
            start_held: false,
            start_refused: false,
            presses: Presses::default(),
            presses_before: Presses::default(),
        }
    }

    /// The buttons in the tick of this time.
    fn press_at(&mut self, now_ms: u64, seen: Seen) -> Buttons {
        while let Some(press) =
            self.planned.pop_if(|press| press.at_s * 1000.0 <= now_ms as f64)
        {
            self.due.push_back(press.button);
        }
        let stops = self.takes_stop();
        let held = self.held.map(|(button, _)| button);
        if let Some(hand) = stops.filter(|_| held != Some(Button::Stop)) {
            self.press(Button::Stop, hand, now_ms, seen);
        } else if held.is_none()
            && let Some((button, hand)) = self.next(now_ms, seen)
        {
            self.press(button, hand, now_ms, seen);
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

    fn press(&mut self, button: Button, hand: Hand, at_ms: u64, seen: Seen) {
        self.held = Some((button, HELD_TICKS));
        if button == Button::Start && !seen.firing {
            let before = std::mem::take(&mut self.presses);
            if before.has_begun() {
                self.presses_before = before;
            }
        }
        self.presses.note(Pressed { button, hand, at_ms });
    }

    /// What was pressed in the firing that has ended.
    pub fn take_presses(&mut self) -> Presses {
        std::mem::take(&mut self.presses)
    }

    /// What was pressed in a firing that had ended when another one began.
    pub fn take_presses_before(&mut self) -> Presses {
        std::mem::take(&mut self.presses_before)
    }

    /// True once if start was pressed while the programme waits for a confirm.
    pub fn start_refused(&mut self) -> bool {
        std::mem::take(&mut self.start_refused)
    }

    /// True once if keys were typed that nothing came of, because too many waited.
    pub fn dropped_keys(&self) -> bool {
        self.keys.as_ref().is_some_and(Keys::dropped)
    }

    /// Whose stop is pressed, if one is. It goes before everything that waits, and what was pressed
    /// before it is forgotten.
    fn takes_stop(&mut self) -> Option<Hand> {
        let planned = self.due.iter().rposition(|button| *button == Button::Stop);
        if let (Some(_), Some(keys)) = (planned, &self.keys) {
            keys.clear();
        }
        let typed = self.keys.as_ref().is_some_and(Keys::stop);
        let before = if typed { self.due.len() } else { planned.map_or(0, |last| last + 1) };
        self.due.drain(..before);
        if typed { Some(Hand::Keyboard) } else { planned.map(|_| Hand::Plan) }
    }

    fn next(&mut self, now_ms: u64, seen: Seen) -> Option<(Button, Hand)> {
        if let Some(planned) = self.due.pop_front() {
            return Some((planned, Hand::Plan));
        }
        if let Some(typed) = self.keys.as_ref().and_then(Keys::next) {
            return Some((typed, Hand::Keyboard));
        }
        self.operator.as_mut()?.next(now_ms, seen).map(|button| (button, Hand::Operator))
    }
}

impl Operator for Panel {
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons {
        let (status, announcement) = (firmware.status(), firmware.announcement());
        let seen = Seen {
            firing: status.step.is_some(),
            asks: outputs.buzzer && status.tripped.is_none(),
            announced: announcement.unconfirmed,
            commits: announcement.commits,
        };
        let buttons = self.press_at(now_ms + u64::from(TICK_MS), seen);
        let start = buttons.start && announcement.unconfirmed;
        self.start_refused |= start && !std::mem::replace(&mut self.start_held, start);
        self.start_held = start;
        buttons
    }

    fn firing_started(&mut self, now_ms: u64) {
        self.presses.began(now_ms);
    }
}

impl Attendant {
    fn next(&mut self, now_ms: u64, seen: Seen) -> Option<Button> {
        // What was there before anything was uploaded is left alone.
        let new = !seen.firing && seen.commits != self.started;
        let (wanted, after_ms) = match (seen.asks && seen.firing, new, seen.announced) {
            (true, ..) => (Button::Confirm, ANSWERS_MS),
            (false, true, true) => (Button::Confirm, LOOKS_MS),
            (false, true, false) => (Button::Start, LOOKS_MS),
            (false, false, _) => {
                self.waits_since_ms = None;
                return None;
            }
        };
        let since = *self.waits_since_ms.get_or_insert(now_ms);
        if now_ms.saturating_sub(since) < after_ms {
            return None;
        }
        self.waits_since_ms = None;
        if wanted == Button::Start {
            self.started = seen.commits;
        }
        Some(wanted)
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    /// The presses of so many ticks, at a panel at whose keyboard this was typed.
    fn pressed(typed: String, planned: Vec<Press>, ticks: u64) -> Vec<Button> {
        let mut panel = Panel::new(planned, false, false);
        panel.keys = Some(Keys::heard(Cursor::new(typed)));
        let mut before = None;
        let tick = |tick| {
            let Buttons { start, stop, confirm } = panel.press_at(tick * 100, Seen::default());
            let now = match (start, stop, confirm) {
                (true, ..) => Some(Button::Start),
                (_, true, _) => Some(Button::Stop),
                (.., true) => Some(Button::Confirm),
                (false, false, false) => None,
            };
            let begun = now.filter(|_| now != before);
            before = now;
            begun
        };
        (0..ticks).filter_map(tick).collect()
    }

    #[test]
    fn a_stop_waits_for_nothing_and_forgets_what_waited() {
        let typed = format!("{}x\n", "c\n".repeat(40));
        assert_eq!(pressed(typed, Vec::new(), 300), [Button::Stop]);
        let typed = format!("{}x\ns\n", "c\n".repeat(40));
        assert_eq!(pressed(typed, Vec::new(), 300), [Button::Stop, Button::Start]);
    }

    #[test]
    fn a_planned_stop_does_not_wait_for_the_keyboard() {
        let stop = "stop@0.2".parse().unwrap();
        let buttons = pressed("c\ns\ns\n".to_owned(), vec![stop], 300);
        assert_eq!(buttons, [Button::Confirm, Button::Stop]);
    }

    #[test]
    fn what_was_pressed_is_pressed_in_its_order() {
        let planned = ["start@0", "confirm@0"].map(|press| press.parse().unwrap());
        let buttons = pressed("c\ns\n".to_owned(), planned.to_vec(), 300);
        let wanted = [Button::Start, Button::Confirm, Button::Confirm, Button::Start];
        assert_eq!(buttons, wanted);
    }

    #[test]
    fn it_is_noted_whose_press_it_was_from_the_last_start_on() {
        let planned = ["confirm@0", "start@1", "stop@30"].map(|press| press.parse().unwrap());
        let mut panel = Panel::new(planned.to_vec(), true, false);
        panel.keys = Some(Keys::heard(Cursor::new("c\n")));
        for tick in 0..400 {
            let firing = tick > 12;
            panel.press_at(tick * 100, Seen { firing, asks: firing, ..Seen::default() });
        }
        panel.firing_started(1_200);
        // The operator answers half a minute after the question, but for the stop in between.
        let told = panel.take_presses().words();
        let wanted = "start at minute 0 as planned, stop at minute 0.5 as planned, \
                      confirm at minute 0.5 by the operator";
        assert_eq!(told, wanted);
        assert_eq!(panel.take_presses(), Presses::default());
    }
}
