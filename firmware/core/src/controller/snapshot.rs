//! Snapshots: the complete state that one tick leaves to the next, small enough for one link frame.
//!
//! With the furnace data, the programme and a snapshot, a log that begins in the middle of a firing
//! replays bit for bit. A snapshot does not contain the furnace data and the programme, which are
//! sent separately; what can be derived from them (the current step, the sums of the guards); the cached
//! cold-junction voltage; pending events; and a heat permit, which nothing can store.
//!
//! Only host tools can restore a snapshot, with the feature `restore`, which no device firmware enables.
//! On a device it would be a way to heat without a press on start, or to drop a latched trip.

use super::{Controller, LoadedProgramme};
use crate::buffer::ByteBuffer;

/// Maximum length of a snapshot (bytes).
pub const SNAPSHOT_BYTES_MAX: usize = 540;

/// Version of the core, the first byte of a snapshot. It rises with every change of the content, and with
/// every change after which the core answers the same inputs otherwise.
pub const SNAPSHOT_VERSION: u8 = 3;

impl Controller {
    /// Writes a snapshot of the state before the next tick into `buffer`, and returns its length, at
    /// most [`SNAPSHOT_BYTES_MAX`]; `None` if it does not fit.
    #[inline]
    pub fn save_snapshot(&self, buffer: &mut [u8]) -> Option<usize> {
        // Without `..`, so that a new field cannot be forgotten here.
        let Self {
            furnace: _,
            furnace_guard,
            programme,
            control: (_, control),
            limit: (_, limit),
            interlock,
            sequencer,
            heat,
            vacuum,
            burst,
            events: _,
            previous,
            recovery,
        } = self;
        let position = programme.as_ref().map(|LoadedProgramme { guard, .. }| guard.position());
        let content = (
            SNAPSHOT_VERSION,
            position,
            control,
            limit,
            interlock,
            sequencer,
            heat,
            vacuum,
            burst,
            previous,
            recovery,
            furnace_guard.position(),
        );
        let mut buffer = ByteBuffer::new(buffer);
        buffer.encode(&content)?;
        Some(buffer.filled().len())
    }
}
