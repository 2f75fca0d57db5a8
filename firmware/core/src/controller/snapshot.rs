//! A snapshot: all that the next tick takes from the ticks before, in few enough bytes for one
//! frame of a link.
//!
//! With the furnace, the programme and a snapshot, a log that begins in the middle of a firing
//! replays bit for bit. Not in it: the furnace and the programme, which travel by themselves; what
//! follows from them (the step at hand, the sum of the guard); the last cold junction's voltage,
//! which only saves time; events that wait; and a heat permit, which nothing can store.
//!
//! Only a desk can go back to a snapshot, with the feature `desk`, which no image of a device
//! enables. On a device it would be a way to heat without a press on start, or to lose a latch.

use super::{Controller, LoadedProgramme};
use crate::buffer::ByteBuffer;

/// Most bytes of a snapshot.
pub const SNAPSHOT_BYTES_MAX: usize = 250;

/// Version of the bytes. A new one for every change of what is written.
pub(super) const FORMAT: u8 = 1;

impl Controller {
    /// Writes a snapshot and says how many bytes it has, at most [`SNAPSHOT_BYTES_MAX`]; `None` if
    /// there is no room. It is what the next tick will find; events that wait are not in it.
    #[inline]
    pub fn save_snapshot(&self, room: &mut [u8]) -> Option<usize> {
        // Every field by its name: a new one has to be thought about.
        let Self {
            furnace: _,
            rules: _,
            cycles_per_tick: _,
            cycle_share: _,
            programme,
            control: (_, control),
            limit: (_, limit),
            interlock,
            sequencer,
            heat,
            vacuum,
            burst,
            events: _,
            last,
        } = self;
        let mark = programme.as_ref().map(|LoadedProgramme { guard, .. }| guard.position());
        let all =
            (FORMAT, mark, control, limit, interlock, sequencer, heat, vacuum, burst, last);
        let mut room = ByteBuffer::new(room);
        room.encode(&all)?;
        Some(room.filled().len())
    }
}
