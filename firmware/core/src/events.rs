//! What happened, in order, for whoever wants to know: a ring that forgets the oldest.

use heapless::Deque;
use serde::{Deserialize, Serialize};

use crate::units::Instant;

pub use crate::interlock::Cause;
pub use crate::sequencer::Ending;

/// Events that wait at most.
pub const EVENTS_MAX: usize = 16;

/// One event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Event {
    /// When.
    pub at: Instant,
    /// What.
    pub what: What,
}

/// What can happen. Links and logs carry the number of a variant: new ones are added at the end,
/// and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum What {
    /// The operator started the programme.
    Started,
    /// A step began; steps count from 0.
    StepBegan(u8),
    /// The pressure of the vacuum stage was reached.
    VacuumReached,
    /// The operator is asked for an answer.
    Asked,
    /// The firing ended.
    Ended(Ending),
    /// The interlock took the heat away.
    Tripped(Cause),
    /// The operator accepted a trip whose cause had gone.
    Accepted,
}

/// An event as the ring keeps it, in half the room. Milliseconds of 48 bits last nine thousand
/// years.
#[derive(Clone, Copy, Debug)]
struct Kept {
    at_low: u32,
    at_high: u16,
    what: What,
}

impl Kept {
    #[expect(clippy::cast_possible_truncation, reason = "the lower half is what is wanted")]
    fn of(at: Instant, what: What) -> Self {
        let millis = at.millis();
        let at_high = u16::try_from(millis >> 32).unwrap_or(u16::MAX);
        Self { at_low: millis as u32, at_high, what }
    }

    fn event(self) -> Event {
        let millis = u64::from(self.at_high) << 32 | u64::from(self.at_low);
        Event { at: Instant::from_millis(millis), what: self.what }
    }
}

/// The ring.
#[derive(Clone, Debug, Default)]
pub struct Events {
    ring: Deque<Kept, EVENTS_MAX>,
}

impl Events {
    /// Adds one; the oldest goes if there is no room.
    pub(crate) fn tell(&mut self, at: Instant, what: What) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        // There is room: one was taken if there was none.
        let _ = self.ring.push_back(Kept::of(at, what));
    }

    /// The oldest that has not been taken.
    pub fn take(&mut self) -> Option<Event> {
        self.ring.pop_front().map(Kept::event)
    }
}
