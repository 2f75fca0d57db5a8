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
    pub kind: EventKind,
}

/// What can happen. Links and logs carry the number of a variant: new ones are added at the end,
/// and only there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EventKind {
    /// The operator started the programme.
    FiringStarted,
    /// A step began; steps count from 0.
    StepStarted(u8),
    /// The pressure of the vacuum stage was reached.
    VacuumReached,
    /// The operator is asked for an answer.
    HoldStarted,
    /// The firing ended.
    FiringEnded(Ending),
    /// The interlock took the heat away.
    Tripped(Cause),
    /// The operator accepted a trip whose cause had gone.
    TripAccepted,
}

/// An event as the ring keeps it, in half the room. Milliseconds of 48 bits last nine thousand
/// years.
#[derive(Clone, Copy, Debug)]
struct PackedEvent {
    at_low: u32,
    at_high: u16,
    what: EventKind,
}

impl PackedEvent {
    #[expect(clippy::cast_possible_truncation, reason = "the lower half is what is wanted")]
    fn of(at: Instant, what: EventKind) -> Self {
        let millis = at.millis();
        let at_high = u16::try_from(millis >> 32).unwrap_or(u16::MAX);
        Self { at_low: millis as u32, at_high, what }
    }

    fn event(self) -> Event {
        let millis = u64::from(self.at_high) << 32 | u64::from(self.at_low);
        Event { at: Instant::from_millis(millis), kind: self.what }
    }
}

/// The ring.
#[derive(Clone, Debug, Default)]
pub struct EventQueue {
    ring: Deque<PackedEvent, EVENTS_MAX>,
}

impl EventQueue {
    /// Adds one; the oldest goes if there is no room.
    pub(crate) fn push(&mut self, at: Instant, what: EventKind) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        // There is room: one was taken if there was none.
        let _ = self.ring.push_back(PackedEvent::of(at, what));
    }

    /// The oldest that has not been taken.
    pub fn pop(&mut self) -> Option<Event> {
        self.ring.pop_front().map(PackedEvent::event)
    }
}
