//! Lock-outs, as far as the log does not tell of them yet.

use saggar_core::units::Instant;

/// Lock-outs. Whoever reaches the line can cause them, so they are counted here, and what they
/// take of the log is bounded: see [`Device::log_lock_outs`](super::Device::log_lock_outs).
#[derive(Debug, Default)]
pub(super) struct LockOuts {
    /// How many no line tells of yet.
    pub(super) unlogged: u32,
    /// When a line was written last, or the device came up.
    pub(super) logged_at: Instant,
    /// The last line of the log is one of these.
    pub(super) last: bool,
}

impl LockOuts {
    pub(super) fn count(&mut self) {
        self.unlogged = self.unlogged.saturating_add(1);
    }
}
