//! Approval of a new programme by a person at the device.
//!
//! A client with the key can put any programme into flash that this furnace may run. So every commit
//! is announced at the device, by lamp and buzzer and on a display if there is one, and no start is
//! accepted before confirm was pressed there. The confirmation is in the journal; without it the
//! programme is announced again at the next boot.

use saggar_core::io::{Buttons, Outputs};
use saggar_core::programme::DIGEST_BYTES;

use super::call::CallPattern;
use crate::wire::{RANDOM_BYTES, comparison_code, pledge};

/// A board's source of random numbers that nobody can predict, not even with the device's key;
/// returns `None` if it has none.
pub type RandomSource = fn() -> Option<[u8; RANDOM_BYTES]>;

/// The call while a programme is announced.
const ANNOUNCES: CallPattern =
    CallPattern { period_ticks: 20, lamp_ticks: 10, buzzer_ticks: 2 };

/// What a display shows of the programme besides its digest, peak temperature and number of steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Announcement {
    /// The programme is not confirmed yet: no start is accepted.
    pub unconfirmed: bool,
    /// Commits since boot.
    pub commits: u16,
    /// The comparison code, once client and device have agreed on one.
    pub code: Option<u32>,
}

/// Progress of the exchange that makes the comparison code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum CodeState {
    /// A programme was committed: the client may pledge its number.
    AwaitingPledge,
    /// The client has pledged, and the device has drawn its own number.
    Pledged { hash: [u8; DIGEST_BYTES], device: [u8; RANDOM_BYTES] },
    /// The code is known.
    Code(u32),
    /// No code, and no further try before the next commit.
    Closed,
}

/// Approval of the active programme.
pub(super) struct Approval {
    random: RandomSource,
    confirmed: bool,
    /// Confirm was up with no trip latched, so that pressing it now is meant for the programme.
    confirm_armed: bool,
    /// Start was up after the confirmation, so that pressing it now is meant for the programme.
    start_armed: bool,
    commits: u16,
    code_state: CodeState,
}

impl Approval {
    pub(super) const fn new(random: RandomSource) -> Self {
        Self {
            random,
            confirmed: false,
            confirm_armed: false,
            start_armed: false,
            commits: 0,
            code_state: CodeState::Closed,
        }
    }

    pub(super) const fn is_confirmed(&self) -> bool {
        self.confirmed
    }

    /// The journal proves that the programme was confirmed.
    pub(super) fn mark_confirmed(&mut self) {
        self.confirmed = true;
    }

    /// Begins the announcement of a programme, which may be the same one again.
    pub(super) fn on_commit(&mut self) {
        self.confirmed = false;
        self.confirm_armed = false;
        self.start_armed = false;
        self.commits = self.commits.wrapping_add(1);
        self.code_state = CodeState::AwaitingPledge;
    }

    /// Takes the client's pledge and draws the device's number, `Some(None)` without a source. `None`
    /// if no pledge is expected now.
    pub(super) fn accept_pledge(
        &mut self,
        hash: &[u8; DIGEST_BYTES],
    ) -> Option<Option<[u8; RANDOM_BYTES]>> {
        if self.code_state != CodeState::AwaitingPledge {
            return None;
        }
        let drawn = (self.random)();
        self.code_state = match drawn {
            Some(device) => CodeState::Pledged { hash: *hash, device },
            None => CodeState::Closed,
        };
        Some(drawn)
    }

    /// Takes the number that the client reveals; false if it is not the one pledged.
    pub(super) fn accept_number(
        &mut self,
        number: &[u8; RANDOM_BYTES],
        programme: &[u8; DIGEST_BYTES],
    ) -> bool {
        let CodeState::Pledged { hash, device } = self.code_state else { return false };
        let good = pledge(number) == hash;
        self.code_state = if good {
            CodeState::Code(comparison_code(programme, &device, number))
        } else {
            CodeState::Closed
        };
        good
    }

    /// True once, when confirm is pressed for the programme. A press that accepts a trip does not
    /// count.
    pub(super) fn confirm_pressed(&mut self, buttons: Buttons, tripped: bool) -> bool {
        if self.confirmed {
            return false;
        }
        let pressed = buttons.confirm && self.confirm_armed && !tripped;
        self.confirm_armed = !tripped && !buttons.confirm;
        self.confirmed = pressed;
        pressed
    }

    /// The start button as the core may see it: a press counts only after the programme was confirmed
    /// and the button released. A button that is held, or stuck, starts nothing.
    pub(super) fn filter_start(&mut self, start: bool) -> bool {
        self.start_armed |= self.confirmed && !start;
        start && self.start_armed
    }

    /// Adds the announcement to the outputs.
    pub(super) fn overlay(&self, outputs: Outputs, tick: u32) -> Outputs {
        if self.confirmed {
            return outputs;
        }
        ANNOUNCES.add(outputs, tick)
    }

    pub(super) fn announcement(&self) -> Announcement {
        let code = match self.code_state {
            CodeState::Code(code) => Some(code),
            CodeState::AwaitingPledge | CodeState::Pledged { .. } | CodeState::Closed => None,
        };
        Announcement { unconfirmed: !self.confirmed, commits: self.commits, code }
    }
}
