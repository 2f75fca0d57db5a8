//! How far the lift may still be from its shut end. A shut contact that closes before the lift can have arrived
//! is stuck, and would let an open chamber heat.

use serde::Serialize;

use crate::io::ClosureContacts;

/// Longest way that counts (ticks). It is shorter than the time within which a lift must arrive, so that
/// nothing trips while this one is waited for.
const AWAY_TICKS_MAX: u16 = 1_100;

/// Ticks in a unit of the farthest way: two minutes fit a byte.
const UNIT_TICKS: u16 = 5;

/// The way of the lift, in ticks of its own movement. A door, which a person moves, has none.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct LiftTravel {
    /// Ticks that it moved to open, less those that it moved to shut. 0 after power-up, wherever it is.
    away_ticks: u16,
    /// The most that these were on this way, in units, rounded up.
    farthest: u8,
}

/// What the contacts say of the chamber.
#[derive(Clone, Copy, Debug)]
pub(super) struct JudgedContacts {
    /// They prove it shut, and the lift has moved for as long to shut as it had moved to open.
    pub(super) shut: bool,
    /// They say so before the lift has moved for half of that time.
    pub(super) shut_too_early: bool,
}

impl LiftTravel {
    /// Processes one tick, in which the lift was commanded to open or to shut.
    pub(super) fn update(&mut self, firing: bool, to_open: bool, contacts: ClosureContacts) {
        if !firing && contacts.proves_shut() {
            // Somebody may have moved it by hand, and a start asks for the contact.
            *self = Self::default();
        } else if to_open && !contacts.shut && !contacts.open {
            self.away_ticks = self.away_ticks.saturating_add(1).min(AWAY_TICKS_MAX);
            let units = self.away_ticks.div_ceil(UNIT_TICKS);
            self.farthest = self.farthest.max(u8::try_from(units).unwrap_or(u8::MAX));
        } else if !to_open && !contacts.open {
            self.away_ticks = self.away_ticks.saturating_sub(1);
        }
        if self.away_ticks == 0 {
            self.farthest = 0;
        }
    }

    /// What the contacts of this tick are worth.
    pub(super) fn judge(self, to_open: bool, contacts: ClosureContacts) -> JudgedContacts {
        let shut = contacts.proves_shut();
        let half_ticks = u16::from(self.farthest).saturating_mul(UNIT_TICKS) / 2;
        JudgedContacts {
            shut: shut && self.away_ticks == 0,
            shut_too_early: shut && !to_open && self.away_ticks > half_ticks,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::LiftTravel;
    use crate::io::ClosureContacts;

    const BETWEEN: ClosureContacts = ClosureContacts { shut: false, open: false };
    const AT_THE_END: ClosureContacts = ClosureContacts { shut: false, open: true };
    const SHUT: ClosureContacts = ClosureContacts { shut: true, open: false };

    /// While it leaves its open end, and while it is held up by a command to open, it comes no nearer.
    #[test]
    fn only_a_lift_that_shuts_comes_back() {
        let mut travel = LiftTravel::default();
        let mut run = |to_open, contacts, ticks: u8| {
            for _ in 0..ticks {
                travel.update(true, to_open, contacts);
            }
            travel.judge(to_open, SHUT).shut
        };
        assert!(!run(true, BETWEEN, 10));
        assert!(!run(true, AT_THE_END, 50) && !run(false, AT_THE_END, 50));
        assert!(!run(true, SHUT, 50));
        assert!(!run(false, BETWEEN, 9) && run(false, BETWEEN, 1));
    }
}
