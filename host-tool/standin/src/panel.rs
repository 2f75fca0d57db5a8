//! The control panel of a stand-in: its buttons, pressed at the keyboard, as planned, or by a
//! simulated operator.

use std::collections::VecDeque;
use std::io::Read;

use saggar_bench::firmware::Firmware;
use saggar_bench::operator::Operator;
use saggar_core::TICK_MS;
use saggar_core::controller::{Bookmark, StartError};
use saggar_core::io::{Buttons, Outputs};

use crate::keyboard::Keyboard;
use crate::presses::{Button, PlannedPress, PressLog, PressSource, RecordedPress};
use crate::typed::{FaultOrder, LineError};

/// Ticks that a press lasts; the device accepts it after two.
const PRESS_TICKS: u8 = 4;

/// Time that the simulated operator takes to press confirm or start (ms).
const CONFIRM_DELAY_MS: u64 = 3_000;

/// Time that the simulated operator takes to answer a question (ms).
const ANSWER_DELAY_MS: u64 = 30_000;

/// The state that the simulated operator reacts to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct FirmwareState {
    /// A firing is running.
    is_firing: bool,
    /// The operator is asked, and nothing has tripped.
    is_asking: bool,
    /// Start was answered with the question whether the chamber is shut.
    asks_contact: bool,
    /// A firing that a power cut interrupted waits.
    is_interrupted: bool,
    /// It may not go on.
    is_over: bool,
    /// The active programme is not confirmed yet.
    needs_confirm: bool,
    /// Uploads since the stand-in started.
    uploads: u16,
}

/// The panel.
pub struct ControlPanel {
    planned: Vec<PlannedPress>,
    /// Planned presses that are due.
    due_presses: VecDeque<Button>,
    keyboard: Option<Keyboard>,
    /// Until then the lines typed at the keyboard wait (ms).
    waits_until_ms: Option<u64>,
    operator: Option<AutoOperator>,
    /// The button that is held down, and for how many more ticks.
    held: Option<(Button, u8)>,
    /// Start is held down while the programme is not confirmed.
    start_held: bool,
    /// Start was pressed while the programme was not confirmed; not reported yet.
    start_refused: bool,
    /// Stop was pressed while no firing ran; not reported yet.
    idle_stop: bool,
    /// Presses since the last start.
    presses: PressLog,
    /// Presses of the firing before the last start.
    previous_presses: PressLog,
}

/// A simulated operator, who starts each upload and answers every question.
#[derive(Debug, Default)]
struct AutoOperator {
    /// The upload that was started last.
    started_upload: u16,
    /// Start was answered with a question, which is answered by now.
    starts_again: bool,
    /// The power was cut since it came: it goes on with what that has interrupted.
    saw_cut: bool,
    waiting_since_ms: Option<u64>,
}

impl ControlPanel {
    /// A panel, with a simulated operator if `operator`, and with this keyboard.
    pub fn new(
        mut planned: Vec<PlannedPress>,
        operator: bool,
        keyboard: Option<Box<dyn Read + Send>>,
    ) -> Self {
        planned.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        // Taken from the end; presses of the same second keep their order.
        planned.reverse();
        Self {
            planned,
            due_presses: VecDeque::new(),
            keyboard: keyboard.map(Keyboard::listen),
            waits_until_ms: None,
            operator: operator.then(AutoOperator::default),
            held: None,
            start_held: false,
            start_refused: false,
            idle_stop: false,
            presses: PressLog::default(),
            previous_presses: PressLog::default(),
        }
    }

    /// The buttons in the tick at this time.
    fn tick(&mut self, now_ms: u64, state: FirmwareState) -> Buttons {
        self.queue_planned(now_ms);
        let stop_source = self.take_stop();
        let held = self.held.map(|(button, _)| button);
        if let Some(source) = stop_source.filter(|_| held != Some(Button::Stop)) {
            self.press(Button::Stop, source, now_ms, state);
        } else if held.is_none()
            && let Some((button, source)) = self.next_press(now_ms, state)
        {
            self.press(button, source, now_ms, state);
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

    fn press(&mut self, button: Button, source: PressSource, at_ms: u64, state: FirmwareState) {
        self.held = Some((button, PRESS_TICKS));
        self.idle_stop |= button == Button::Stop && !(state.is_firing || state.is_interrupted);
        if button == Button::Start && !state.is_firing {
            let before = std::mem::take(&mut self.presses);
            if before.has_started() {
                self.previous_presses = before;
            }
        }
        self.presses.record(RecordedPress { button, source, at_ms });
    }

    /// Whether this button is held down.
    pub(super) fn is_held(&self, button: Button) -> bool {
        self.held.is_some_and(|(held, _)| held == button)
    }

    /// Records that a client's order, not a button, stopped the firing.
    pub(super) fn note_ordered_stop(&mut self, at_ms: u64) {
        let (button, source) = (Button::Stop, PressSource::Client);
        self.presses.record(RecordedPress { button, source, at_ms });
    }

    /// Takes the presses of the firing that has ended.
    pub fn take_presses(&mut self) -> PressLog {
        std::mem::take(&mut self.presses)
    }

    /// Takes the presses of a firing that ended before the current one started.
    pub fn take_previous_presses(&mut self) -> PressLog {
        std::mem::take(&mut self.previous_presses)
    }

    /// True once after start was pressed while the programme was not confirmed.
    pub fn start_refused(&mut self) -> bool {
        std::mem::take(&mut self.start_refused)
    }

    /// True once after stop was pressed while no firing ran.
    pub fn take_idle_stop(&mut self) -> bool {
        std::mem::take(&mut self.idle_stop)
    }

    /// Takes the last typed line that means nothing.
    pub(super) fn take_unknown_line(&self) -> Option<LineError> {
        self.keyboard.as_ref().and_then(Keyboard::take_unknown)
    }

    /// Takes the next order about faults at this time, if no line before it is still to be done.
    pub(super) fn take_order(&mut self, now_ms: u64) -> Option<FaultOrder> {
        if self.held.is_some() || self.keyboard_waits(now_ms) {
            return None;
        }
        self.keyboard.as_ref()?.next_order()
    }

    /// Whether the lines at the keyboard wait at this time.
    fn keyboard_waits(&mut self, now_ms: u64) -> bool {
        if self.waits_until_ms.is_none_or(|until_ms| until_ms <= now_ms) {
            let wait_s = self.keyboard.as_ref().and_then(Keyboard::next_wait);
            self.waits_until_ms = wait_s.map(|wait_s| now_ms + (wait_s * 1000.0) as u64);
        }
        self.waits_until_ms.is_some()
    }

    /// Forgets all presses up to this time, because the device is off. Returns whether there was one.
    pub(super) fn lose_presses(&mut self, now_ms: u64) -> bool {
        let mut lost = self.held.take().is_some();
        let operator = self.operator.as_mut();
        operator.into_iter().for_each(AutoOperator::see_power_cut);
        self.queue_planned(now_ms);
        lost |= !self.due_presses.is_empty();
        self.due_presses.clear();
        if self.keyboard.as_ref().is_some_and(Keyboard::take_stop) {
            (self.waits_until_ms, lost) = (None, true);
        }
        while !self.keyboard_waits(now_ms)
            && self.keyboard.as_ref().is_some_and(|keys| keys.next_press().is_some())
        {
            lost = true;
        }
        lost
    }

    /// Queues the planned presses that are due.
    fn queue_planned(&mut self, now_ms: u64) {
        while let Some(press) =
            self.planned.pop_if(|press| press.at_s * 1000.0 <= now_ms as f64)
        {
            self.due_presses.push_back(press.button);
        }
    }

    /// True once after keys were dropped because too many were queued.
    pub fn take_dropped_keys(&self) -> bool {
        self.keyboard.as_ref().is_some_and(Keyboard::take_dropped)
    }

    /// Takes a pending stop, typed or planned, and drops every press before it.
    fn take_stop(&mut self) -> Option<PressSource> {
        let planned = self.due_presses.iter().rposition(|button| *button == Button::Stop);
        if let (Some(_), Some(keys)) = (planned, &self.keyboard) {
            keys.clear();
        }
        let typed = self.keyboard.as_ref().is_some_and(Keyboard::take_stop);
        let before =
            if typed { self.due_presses.len() } else { planned.map_or(0, |last| last + 1) };
        self.due_presses.drain(..before);
        if typed || planned.is_some() {
            self.waits_until_ms = None;
        }
        if typed { Some(PressSource::Typed) } else { planned.map(|_| PressSource::Planned) }
    }

    fn next_press(
        &mut self,
        now_ms: u64,
        state: FirmwareState,
    ) -> Option<(Button, PressSource)> {
        if let Some(planned) = self.due_presses.pop_front() {
            return Some((planned, PressSource::Planned));
        }
        if !self.keyboard_waits(now_ms)
            && let Some(typed) = self.keyboard.as_ref().and_then(Keyboard::next_press)
        {
            return Some((typed, PressSource::Typed));
        }
        self.operator
            .as_mut()?
            .next(now_ms, state)
            .map(|button| (button, PressSource::Operator))
    }
}

impl Operator for ControlPanel {
    fn buttons(&mut self, now_ms: u64, outputs: &Outputs, firmware: &impl Firmware) -> Buttons {
        let (status, announcement) = (firmware.status(), firmware.announcement());
        let state = FirmwareState {
            is_firing: status.step.is_some(),
            is_asking: outputs.buzzer && status.trip.is_none(),
            asks_contact: status.start_error == Some(StartError::ContactUnproven),
            is_interrupted: status.interrupted.is_some(),
            is_over: status.interrupted.is_some_and(|cut| cut.has(Bookmark::OVER)),
            needs_confirm: announcement.unconfirmed,
            uploads: announcement.commits,
        };
        let buttons = self.tick(now_ms + u64::from(TICK_MS), state);
        let start = buttons.start && announcement.unconfirmed;
        self.start_refused |= start && !std::mem::replace(&mut self.start_held, start);
        self.start_held = start;
        buttons
    }

    fn firing_started(&mut self, now_ms: u64) {
        self.presses.mark_start(now_ms);
    }

    /// The firing waits for as long as whoever stands at the panel takes.
    fn goes_on_after_a_cut(&self) -> bool {
        true
    }
}

impl AutoOperator {
    /// The device counts uploads from its boot on.
    fn see_power_cut(&mut self) {
        *self = Self { saw_cut: true, ..Self::default() };
    }

    fn next(&mut self, now_ms: u64, state: FirmwareState) -> Option<Button> {
        // A programme that was there before the first upload is not started.
        let new = self.starts_again || state.uploads != self.started_upload;
        let new = new && !state.is_firing;
        let (wanted, after_ms) =
            match (state.is_asking && state.is_firing, new, state.needs_confirm) {
                (true, ..) => (Button::Confirm, ANSWER_DELAY_MS),
                _ if self.saw_cut && state.is_interrupted => match state.is_over {
                    true => (Button::Confirm, ANSWER_DELAY_MS),
                    false => (Button::Start, ANSWER_DELAY_MS),
                },
                // It has looked, and starts again.
                _ if state.asks_contact && !self.starts_again => {
                    (Button::Confirm, CONFIRM_DELAY_MS)
                }
                (false, true, true) => (Button::Confirm, CONFIRM_DELAY_MS),
                (false, true, false) => (Button::Start, CONFIRM_DELAY_MS),
                (false, false, _) => {
                    self.waiting_since_ms = None;
                    return None;
                }
            };
        let since = *self.waiting_since_ms.get_or_insert(now_ms);
        if now_ms.saturating_sub(since) < after_ms {
            return None;
        }
        self.waiting_since_ms = None;
        self.starts_again = state.asks_contact && wanted == Button::Confirm;
        if wanted == Button::Start {
            self.started_upload = state.uploads;
        }
        Some(wanted)
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    /// The presses of this many ticks, with this text typed at the keyboard.
    fn pressed(typed: String, planned: Vec<PlannedPress>, ticks: u64) -> Vec<Button> {
        let mut panel = ControlPanel::new(planned, false, None);
        panel.keyboard = Some(Keyboard::read_all(Cursor::new(typed)));
        let mut before = None;
        let tick = |tick| {
            let Buttons { start, stop, confirm } =
                panel.tick(tick * 100, FirmwareState::default());
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
    fn a_stop_goes_first_and_drops_earlier_presses() {
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
    fn presses_keep_their_order() {
        let planned = ["start@0", "confirm@0"].map(|press| press.parse().unwrap());
        let buttons = pressed("c\ns\n".to_owned(), planned.to_vec(), 300);
        let wanted = [Button::Start, Button::Confirm, Button::Confirm, Button::Start];
        assert_eq!(buttons, wanted);
    }

    #[test]
    fn the_log_of_presses_begins_at_the_last_start_and_names_who_pressed() {
        let planned = ["confirm@0", "start@1", "stop@30"].map(|press| press.parse().unwrap());
        let mut panel = ControlPanel::new(planned.to_vec(), true, None);
        panel.keyboard = Some(Keyboard::read_all(Cursor::new("c\n")));
        for tick in 0..400 {
            let firing = tick > 12;
            panel.tick(
                tick * 100,
                FirmwareState {
                    is_firing: firing,
                    is_asking: firing,
                    ..FirmwareState::default()
                },
            );
        }
        panel.firing_started(1_200);
        // The operator answers half a minute after the question; the stop in between does not delay it.
        let summary = panel.take_presses().summary();
        let wanted = "start at minute 0 as planned, stop at minute 0.5 as planned, \
                      confirm at minute 0.5 by the operator";
        assert_eq!(summary, wanted);
        assert_eq!(panel.take_presses(), PressLog::default());
    }
}
