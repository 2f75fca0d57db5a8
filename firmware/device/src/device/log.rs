//! The log: what is worth knowing after the power was away.

use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;
use saggar_core::events::EventKind;
use saggar_core::units::Instant;

use super::Device;
use super::lock_outs::LockOuts;
use super::records::{decode, tag, tell};
use crate::store::StoredRecord;
use crate::wire::{LOG_ENTRIES_MAX, LogEntry, LogEvent};

/// Free lines with which a firing may begin: it has at most 64 steps, each with a beginning, a
/// vacuum and a question, and an end. Erasing flash takes longer than a tick.
const ROOM_FOR_A_FIRING: u32 = 256;

/// Lines that a firing leaves free for its end: what was lost, the trip, the ending. No erase
/// may stand between a trip and the outputs of its tick.
const ROOM_FOR_AN_END: u32 = 4;

/// Least time between two lines of lock-outs, and before the first of a boot (ms).
const LOCK_OUTS_MS: u64 = 3_600_000;

impl<F: NorFlash> Device<F> {
    /// Writes a line. What the flash does not take is counted, and told by a later line.
    pub(super) fn write_log(&mut self, at: Instant, entry: LogEvent) {
        if self.lost > 0 && self.try_write(at, LogEvent::EntriesLost(self.lost)) {
            self.lost = 0;
        }
        if !self.try_write(at, entry) {
            self.lost = self.lost.saturating_add(1);
        }
    }

    pub(super) fn try_write(&mut self, at: Instant, entry: LogEvent) -> bool {
        // Between ticks there is no time for an erase.
        if self.firing() && self.store.journal_free() <= ROOM_FOR_AN_END {
            return false;
        }
        let ready = self.store.journal_free() > 0 || self.turn_log(at);
        let written = ready && tell(&mut self.store, at, &entry);
        self.lock_outs.last &= !written;
        written
    }

    /// Tells of lock-outs: at most one line an hour, none while a firing runs, none that leaves
    /// the journal to be turned, and none behind another. So strangers alone never make the
    /// journal forget a line, and together with other lines at most half of them are theirs.
    pub(super) fn log_lock_outs(&mut self, at: Instant) {
        let LockOuts { unlogged, logged_at, last } = self.lock_outs;
        if unlogged == 0 || last || at.since(logged_at) < LOCK_OUTS_MS || self.firing() {
            return;
        }
        if self.store.journal_free() <= self.room_wanted() {
            return;
        }
        // A flash that does not take it may have used a line up: not again before an hour is over.
        self.lock_outs.logged_at = at;
        if tell(&mut self.store, at, &LogEvent::LockOuts(unlogged)) {
            self.lock_outs = LockOuts { unlogged: 0, logged_at: at, last: true };
        }
    }

    /// Goes on in the other region of the journal. What stood there is gone, and a trip that
    /// nobody has accepted, or the confirmation of the programme, may be in no other place: they
    /// are told again.
    fn turn_log(&mut self, at: Instant) -> bool {
        if self.store.rotate_journal().is_err() {
            return false;
        }
        if let Some(cause) = self.controller.status().trip {
            tell(&mut self.store, at, &LogEvent::Core(EventKind::Tripped(cause)));
        }
        if let Some(entry) = self.confirmed() {
            tell(&mut self.store, at, &entry);
        }
        true
    }

    /// The line which proves that the programme was confirmed, if it was.
    pub(super) fn confirmed(&self) -> Option<LogEvent> {
        let digest = self.programme.as_ref().filter(|_| self.approval.given())?;
        Some(LogEvent::Confirmed(tag(digest)))
    }

    /// While no firing runs there is time to make room for one.
    pub(super) fn make_room_in_log(&mut self, at: Instant) {
        if self.firing() {
            // After it the erase is tried once more.
            self.log_stuck = false;
            return;
        }
        if self.log_stuck {
            return;
        }
        if self.store.journal_free() < self.room_wanted() {
            self.log_stuck = !self.turn_log(at);
        }
    }

    /// Free lines that a furnace at rest keeps. A small flash is not erased over and over for what
    /// it cannot have.
    fn room_wanted(&self) -> u32 {
        ROOM_FOR_A_FIRING.min(self.store.journal_capacity() / 2)
    }

    /// Number that the next line will have.
    pub(super) fn log_next(&self) -> u32 {
        self.store.next_sequence()
    }

    /// Lines from a number on; the number that the next line will have.
    #[inline(never)]
    pub(super) fn read_log(
        &mut self,
        from: u32,
        lines: &mut Vec<LogEntry, LOG_ENTRIES_MAX>,
    ) -> u32 {
        let mut told = [StoredRecord::default(); LOG_ENTRIES_MAX];
        let count = self.store.read_records(from, &mut told).unwrap_or(0);
        for line in told.iter().take(count).filter_map(decode) {
            // As many as there is room for were asked for.
            let _ = lines.push(line);
        }
        self.log_next()
    }
}
