//! The log: events that are kept across a power failure.

use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;
use saggar_core::events::EventKind;
use saggar_core::units::Instant;

use super::Device;
use super::lock_outs::LockOuts;
use super::records::{append, confirmation_tag, decode};
use crate::store::StoredRecord;
use crate::wire::{LOG_ENTRIES_MAX, LogEntry, LogEvent};

/// Free entries for the events of a firing: it has at most 64 steps, each with a start, a vacuum and a
/// hold, and an end. Erasing flash during a firing would take longer than a tick.
const ENTRIES_FOR_EVENTS: u32 = 256;

/// Free entries for its bookmarks, of two lines each: one for each step and for each vacuum, and one every
/// five minutes for ten hours.
const ENTRIES_FOR_BOOKMARKS: u32 = 512;

/// Entries that a firing leaves free for its end: lost entries, the trip, the ending. No erase may
/// come between a trip and the outputs of its tick.
const ENTRIES_FOR_THE_END: u32 = 4;

/// Minimum time between two entries on lock-outs, and from boot to the first (ms).
const LOCK_OUTS_MS: u64 = 3_600_000;

impl<F: NorFlash> Device<F> {
    /// Writes an entry. Entries that the flash does not take are counted, and a later entry reports
    /// their number.
    pub(super) fn write_log(&mut self, at: Instant, entry: LogEvent) {
        if self.lost_entries > 0
            && self.try_write_log(at, LogEvent::EntriesLost(self.lost_entries))
        {
            self.lost_entries = 0;
        }
        if !self.try_write_log(at, entry) {
            self.lost_entries = self.lost_entries.saturating_add(1);
        }
    }

    pub(super) fn try_write_log(&mut self, at: Instant, entry: LogEvent) -> bool {
        // There is no time for an erase during a firing.
        if self.is_firing() && self.store.journal_free() <= ENTRIES_FOR_THE_END {
            return false;
        }
        let ready = self.store.journal_free() > 0 || self.rotate_log(at);
        let written = ready && append(&mut self.store, at, &entry);
        self.lock_outs.last &= !written;
        written
    }

    /// Logs lock-outs: at most one entry an hour, none during a firing, none that would cause the
    /// journal to rotate, and never two in a row. So lock-outs alone never displace another entry,
    /// and they never make up more than half of the log.
    pub(super) fn log_lock_outs(&mut self, at: Instant) {
        let LockOuts { unlogged, logged_at, last } = self.lock_outs;
        if unlogged == 0 || last || at.since(logged_at) < LOCK_OUTS_MS || self.is_firing() {
            return;
        }
        if self.store.journal_free() <= self.log_space_wanted() {
            return;
        }
        // A failed write may have used up an entry: try again in an hour, not at once.
        self.lock_outs.logged_at = at;
        if append(&mut self.store, at, &LogEvent::LockOuts(unlogged)) {
            self.lock_outs = LockOuts { unlogged: 0, logged_at: at, last: true };
        }
    }

    /// Rotates the journal, which erases its older half. An unaccepted trip, an interrupted firing and the
    /// confirmation of the programme may have been recorded only there, so they are written again.
    fn rotate_log(&mut self, at: Instant) -> bool {
        if self.store.rotate_journal().is_err() {
            return false;
        }
        if let Some(cause) = self.controller.status().trip {
            append(&mut self.store, at, &LogEvent::Core(EventKind::Tripped(cause)));
        }
        for entry in self.interrupted_lines().into_iter().flatten() {
            append(&mut self.store, at, &entry);
        }
        if let Some(entry) = self.confirmation_entry() {
            append(&mut self.store, at, &entry);
        }
        true
    }

    /// The entry that proves the confirmation of the programme, if it was confirmed.
    pub(super) fn confirmation_entry(&self) -> Option<LogEvent> {
        let digest = self.programme.as_ref().filter(|_| self.approval.is_confirmed())?;
        Some(LogEvent::Confirmed(confirmation_tag(digest)))
    }

    /// Rotates the journal between firings, when there is time, so that the next firing has space.
    pub(super) fn reserve_log_space(&mut self, at: Instant) {
        if self.is_firing() {
            // After the firing the erase is tried again.
            self.log_erase_failed = false;
            return;
        }
        if self.log_erase_failed {
            return;
        }
        if self.store.journal_free() < self.log_space_wanted() {
            self.log_erase_failed = !self.rotate_log(at);
        }
    }

    /// Free entries to keep between firings: at most half of a region, so that a small flash is not
    /// erased over and over.
    fn log_space_wanted(&self) -> u32 {
        let wanted = ENTRIES_FOR_EVENTS.saturating_add(ENTRIES_FOR_BOOKMARKS);
        wanted.min(self.store.journal_capacity() / 2)
    }

    /// Free entries that bookmarks leave for the events of a firing: in a small flash half of what it
    /// began with, and always those for its end and for the last word about bookmarks.
    pub(super) fn log_space_for_events(&self) -> u32 {
        let events = ENTRIES_FOR_EVENTS.min(self.log_space_wanted() / 2);
        events.max(ENTRIES_FOR_THE_END.saturating_add(2))
    }

    /// Number that the next entry will get.
    pub(super) fn log_next(&self) -> u32 {
        self.store.next_sequence()
    }

    /// Reads entries from a number on; returns the number that the next new entry will get.
    #[inline(never)]
    pub(super) fn read_log(
        &mut self,
        from: u32,
        entries: &mut Vec<LogEntry, LOG_ENTRIES_MAX>,
    ) -> u32 {
        let mut records = [StoredRecord::default(); LOG_ENTRIES_MAX];
        let count = self.store.read_records(from, &mut records).unwrap_or(0);
        for entry in records.iter().take(count).filter_map(decode) {
            // `records` is no longer than `entries`.
            let _ = entries.push(entry);
        }
        self.log_next()
    }
}
