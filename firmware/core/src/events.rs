//! The event queue. When it is full, the oldest event is dropped.

use heapless::Deque;
use serde::{Deserialize, Serialize};

use crate::units::Instant;

pub use crate::demand::Wait;
pub use crate::estimate::Channel;
pub use crate::interlock::Cause;
pub use crate::sequencer::Ending;

/// Capacity of the queue.
pub const EVENTS_MAX: usize = 16;

/// One event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Event {
    /// Time of the event.
    pub at: Instant,
    /// What happened.
    pub kind: EventKind,
}

/// What can happen. Links and logs carry the variant's number, so add new variants at the end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EventKind {
    /// The operator started a firing.
    FiringStarted,
    /// A step started; steps count from 0.
    StepStarted(u8),
    /// The pressure of a vacuum stage was reached.
    VacuumReached,
    /// An operator hold started: the firing waits for confirm.
    HoldStarted,
    /// The firing ended.
    FiringEnded(Ending),
    /// The interlock tripped.
    Tripped(Cause),
    /// The operator accepted a trip whose cause was gone.
    TripAccepted,
    /// The channel that caused the trip of the same tick.
    ChannelFailed(Channel),
    /// The firing has waited for this for ten minutes.
    WaitIsLong(Wait),
    /// The heater carries less current than expected, but enough to go on: the mains is low, the
    /// element has aged, or the output stage conducts only half-waves.
    HeaterWeak,
    /// The operator confirmed by hand and eye that the chamber is shut.
    ContactChecked,
    /// A firing that a power cut interrupted goes on, in this step.
    FiringResumed(u8),
    /// The operator discarded a firing that a power cut interrupted.
    FiringDiscarded,
}

/// An event with a 48-bit time, half the size of an [`Event`]. 48 bits of milliseconds last nine
/// thousand years.
#[derive(Clone, Copy, Debug)]
struct PackedEvent {
    at_low: u32,
    at_high: u16,
    what: EventKind,
}

impl PackedEvent {
    #[expect(clippy::cast_possible_truncation, reason = "keeps the lower half on purpose")]
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

/// The queue of events that have not been taken yet.
#[derive(Clone, Debug, Default)]
pub struct EventQueue {
    ring: Deque<PackedEvent, EVENTS_MAX>,
}

impl EventQueue {
    /// Adds an event; drops the oldest one if the queue is full.
    pub(crate) fn push(&mut self, at: Instant, what: EventKind) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        // Cannot fail: a slot was freed above.
        let _ = self.ring.push_back(PackedEvent::of(at, what));
    }

    /// Takes the oldest event.
    pub fn pop(&mut self) -> Option<Event> {
        self.ring.pop_front().map(PackedEvent::event)
    }
}
