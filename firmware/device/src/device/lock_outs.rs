//! Lock-outs that are not in the log yet.

use saggar_core::units::Instant;

/// Counts lock-outs. Anyone on the link can cause them, so they are counted here first, and the space
/// that they take in the log is bounded: see [`Device::log_lock_outs`](super::Device::log_lock_outs).
#[derive(Debug, Default)]
pub(super) struct LockOuts {
    /// Lock-outs that no log entry reports yet.
    pub(super) unlogged: u32,
    /// Time of the last such entry, or of boot.
    pub(super) logged_at: Instant,
    /// The last entry of the log is such an entry.
    pub(super) last: bool,
}

impl LockOuts {
    pub(super) fn count(&mut self) {
        self.unlogged = self.unlogged.saturating_add(1);
    }
}
