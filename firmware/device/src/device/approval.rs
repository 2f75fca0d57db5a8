//! Whether somebody at the device knows of the programme that would run.
//!
//! A desk with the key can put any programme into flash that this furnace may run. So every commit
//! is announced at the device, by lamp and buzzer and on a display if there is one, and no start is
//! taken before confirm was pressed there. What was confirmed stands in the journal; without that
//! proof a programme is announced again when the device comes up.

use saggar_core::io::{Buttons, Outputs};
use saggar_core::programme::DIGEST_BYTES;

use crate::wire::{RANDOM_BYTES, comparison_code, pledge};

/// A board's source of numbers that nobody can foresee or find out before they are drawn, not even
/// with the device's key; `None` if it has none.
pub type RandomSource = fn() -> Option<[u8; RANDOM_BYTES]>;

/// While a programme is announced, the lamp is lit for [`LAMP_TICKS`] of so many ticks, and the
/// buzzer sounds for [`BUZZER_TICKS`] of them: not the steady sound of a question or a trip.
const PERIOD_TICKS: u32 = 20;
const LAMP_TICKS: u32 = 10;
const BUZZER_TICKS: u32 = 2;

/// What a display has to show of the programme besides its digits, its peak and its steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Announcement {
    /// Nobody has confirmed the programme yet: no start is taken.
    pub unconfirmed: bool,
    /// Programmes that became the active one since the device came up.
    pub commits: u16,
    /// The code that the desk shows, too, if both have agreed on one.
    pub code: Option<u32>,
}

/// How far desk and device have come with the code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum CodeState {
    /// A programme was committed: a desk may pledge its number.
    Due,
    /// It has, and the device has drawn its own.
    Pledged { hash: [u8; DIGEST_BYTES], device: [u8; RANDOM_BYTES] },
    /// There is a code.
    Code(u32),
    /// None, and none to come before the next commit.
    Over,
}

/// The programme's approval.
pub(super) struct Approval {
    draw: RandomSource,
    given: bool,
    /// The confirm button was up with no trip latched: pressing it now is meant for the programme.
    armed: bool,
    /// The start button was up since the confirmation: pressing it now is meant for the programme.
    startable: bool,
    commits: u16,
    agreement: CodeState,
}

impl Approval {
    pub(super) const fn new(draw: RandomSource) -> Self {
        Self {
            draw,
            given: false,
            armed: false,
            startable: false,
            commits: 0,
            agreement: CodeState::Over,
        }
    }

    pub(super) const fn given(&self) -> bool {
        self.given
    }

    /// There is proof that the programme was confirmed.
    pub(super) fn give(&mut self) {
        self.given = true;
    }

    /// Another programme, or the same one again, is the active one.
    pub(super) fn committed(&mut self) {
        self.given = false;
        self.armed = false;
        self.startable = false;
        self.commits = self.commits.wrapping_add(1);
        self.agreement = CodeState::Due;
    }

    /// A desk pledges a number: the device's own. `None` if it is not the time for that.
    pub(super) fn pledged(
        &mut self,
        hash: &[u8; DIGEST_BYTES],
    ) -> Option<Option<[u8; RANDOM_BYTES]>> {
        if self.agreement != CodeState::Due {
            return None;
        }
        let drawn = (self.draw)();
        self.agreement = match drawn {
            Some(device) => CodeState::Pledged { hash: *hash, device },
            None => CodeState::Over,
        };
        Some(drawn)
    }

    /// A desk reveals the number that it pledged; false if it is not that one.
    pub(super) fn revealed(
        &mut self,
        number: &[u8; RANDOM_BYTES],
        programme: &[u8; DIGEST_BYTES],
    ) -> bool {
        let CodeState::Pledged { hash, device } = self.agreement else { return false };
        let good = pledge(number) == hash;
        self.agreement = if good {
            CodeState::Code(comparison_code(programme, &device, number))
        } else {
            CodeState::Over
        };
        good
    }

    /// Looks at the buttons of a tick. True once if confirm was pressed for the programme. A press
    /// that accepts a trip is not meant for it.
    pub(super) fn look(&mut self, buttons: Buttons, tripped: bool) -> bool {
        if self.given {
            return false;
        }
        let pressed = buttons.confirm && self.armed && !tripped;
        self.armed = !tripped && !buttons.confirm;
        self.given = pressed;
        pressed
    }

    /// What the core is told of the start button: a press counts once the programme was confirmed
    /// and the button was up behind that. One that is held, or stuck, starts nothing.
    pub(super) fn starts(&mut self, start: bool) -> bool {
        self.startable |= self.given && !start;
        start && self.startable
    }

    /// The outputs with the announcement in them.
    pub(super) fn announced(&self, outputs: Outputs, tick: u32) -> Outputs {
        if self.given {
            return outputs;
        }
        let phase = tick.checked_rem(PERIOD_TICKS).unwrap_or(0);
        Outputs {
            lamp: outputs.lamp || phase < LAMP_TICKS,
            buzzer: outputs.buzzer || phase < BUZZER_TICKS,
            ..outputs
        }
    }

    pub(super) fn announcement(&self) -> Announcement {
        let code = match self.agreement {
            CodeState::Code(code) => Some(code),
            CodeState::Due | CodeState::Pledged { .. } | CodeState::Over => None,
        };
        Announcement { unconfirmed: !self.given, commits: self.commits, code }
    }
}
