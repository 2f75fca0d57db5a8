//! The log: what is worth knowing after the power was away.

use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;
use saggar_core::events::What;
use saggar_core::interlock::Cause;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::room::Room;
use saggar_core::units::Instant;

use super::Device;
use crate::store::{Record, Store, Told};
use crate::wire::{Entry, LOG_LINES_MAX, LogLine};

/// Bytes of a record that tell when (s); the rest tells what. Half a year fits.
const WHEN_BYTES: usize = 3;

/// Free lines with which a firing may begin: it has at most 64 steps, each with a beginning, a
/// vacuum and a question, and an end. Erasing flash takes longer than a tick.
const ROOM_FOR_A_FIRING: u32 = 256;

/// Lines that a firing leaves free for its end: what was lost, the trip, the ending. No erase
/// may stand between a trip and the outputs of its tick.
const ROOM_FOR_AN_END: u32 = 4;

/// Least time between two lines of lock-outs, and before the first of a boot (ms).
const LOCK_OUTS_MS: u64 = 3_600_000;

/// Lock-outs. Whoever reaches the line can cause them, so they are counted here, and what they
/// take of the log is bounded: see [`Device::log_lock_outs`].
#[derive(Debug, Default)]
pub(super) struct LockOuts {
    /// How many no line tells of yet.
    unlogged: u32,
    /// When a line was written last, or the device came up.
    logged_at: Instant,
    /// The last line of the log is one of these.
    last: bool,
}

impl LockOuts {
    pub(super) fn count(&mut self) {
        self.unlogged = self.unlogged.saturating_add(1);
    }
}

impl<F: NorFlash> Device<F> {
    /// Writes a line. What the flash does not take is counted, and told by a later line.
    pub(super) fn write_log(&mut self, at: Instant, entry: Entry) {
        if self.lost > 0 && self.try_write(at, Entry::Lost(self.lost)) {
            self.lost = 0;
        }
        if !self.try_write(at, entry) {
            self.lost = self.lost.saturating_add(1);
        }
    }

    pub(super) fn try_write(&mut self, at: Instant, entry: Entry) -> bool {
        // Between ticks there is no time for an erase.
        if self.firing() && self.store.journal_room() <= ROOM_FOR_AN_END {
            return false;
        }
        let ready = self.store.journal_room() > 0 || self.turn_log(at);
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
        if self.store.journal_room() <= self.room_wanted() {
            return;
        }
        // A flash that does not take it may have used a line up: not again before an hour is over.
        self.lock_outs.logged_at = at;
        if tell(&mut self.store, at, &Entry::LockOuts(unlogged)) {
            self.lock_outs = LockOuts { unlogged: 0, logged_at: at, last: true };
        }
    }

    /// Goes on in the other region of the journal. What stood there is gone, and a trip that
    /// nobody has accepted, or the confirmation of the programme, may be in no other place: they
    /// are told again.
    fn turn_log(&mut self, at: Instant) -> bool {
        if self.store.turn_journal().is_err() {
            return false;
        }
        if let Some(cause) = self.controller.status().tripped {
            tell(&mut self.store, at, &Entry::Core(What::Tripped(cause)));
        }
        if let Some(entry) = self.confirmed() {
            tell(&mut self.store, at, &entry);
        }
        true
    }

    /// The line which proves that the programme was confirmed, if it was.
    pub(super) fn confirmed(&self) -> Option<Entry> {
        let digest = self.programme.as_ref().filter(|_| self.approval.given())?;
        Some(Entry::Confirmed(tag(digest)))
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
        if self.store.journal_room() < self.room_wanted() {
            self.log_stuck = !self.turn_log(at);
        }
    }

    /// Free lines that a furnace at rest keeps. A small flash is not erased over and over for what
    /// it cannot have.
    fn room_wanted(&self) -> u32 {
        ROOM_FOR_A_FIRING.min(self.store.journal_lines() / 2)
    }

    /// Number that the next line will have.
    pub(super) fn log_next(&self) -> u32 {
        self.store.journal_next()
    }

    /// Lines from a number on; the number that the next line will have.
    #[inline(never)]
    pub(super) fn read_log(
        &mut self,
        from: u32,
        lines: &mut Vec<LogLine, LOG_LINES_MAX>,
    ) -> u32 {
        let mut told = [Told::default(); LOG_LINES_MAX];
        let count = self.store.records(from, &mut told).unwrap_or(0);
        for line in told.iter().take(count).filter_map(decode) {
            // As many as there is room for were asked for.
            let _ = lines.push(line);
        }
        self.log_next()
    }
}

/// What holds across a power failure. It is told again where the next turn of the journal would
/// forget it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Remembered {
    /// The cause of a trip that nobody has accepted, however often the power went since.
    pub(super) tripped: Option<Cause>,
    /// The [`tag`] of the programme that was confirmed after the last commit.
    pub(super) confirmed: Option<[u8; 4]>,
}

/// What ties a confirmation to its programme: not the digits that the line of its commit has.
pub(super) fn tag(digest: &[u8; DIGEST_BYTES]) -> [u8; 4] {
    let [_, _, _, _, a, b, c, d, ..] = *digest;
    [a, b, c, d]
}

/// Reads what holds; to be called before the boot is counted, which may turn the journal.
#[inline(never)]
pub(super) fn remembered<F: NorFlash>(store: &mut Store<F>) -> Remembered {
    let (mut tripped, mut confirmed) = (None, None);
    let seen = store.walk(0, |told| {
        match decode(&told).map(|line| line.entry) {
            Some(Entry::Core(What::Tripped(cause))) => tripped = Some((cause, told.sequence)),
            Some(Entry::Core(What::Accepted)) => tripped = None,
            Some(Entry::Confirmed(tag)) => confirmed = Some((tag, told.sequence)),
            Some(Entry::Programme(_)) => confirmed = None,
            Some(
                Entry::Core(
                    What::Started
                    | What::StepBegan(_)
                    | What::VacuumReached
                    | What::Asked
                    | What::Ended(_),
                )
                | Entry::Up
                | Entry::StopAsked
                | Entry::Locked
                | Entry::Lost(_)
                | Entry::LockOuts(_),
            )
            | None => {}
        }
        true
    });
    // A trip that was read up to a fault of the flash counts; what may have come behind a
    // confirmation does not.
    if seen.is_err() {
        confirmed = None;
    }
    if tripped.is_none() && confirmed.is_none() {
        return Remembered::default();
    }
    let turned = store.journal_room() == 0 && store.turn_journal().is_ok();
    let used = store.journal_lines().saturating_sub(store.journal_room());
    let first = store.journal_next().saturating_sub(used);
    let at = Instant::default();
    if let Some((cause, sequence)) = tripped
        && (turned || sequence < first)
    {
        tell(store, at, &Entry::Core(What::Tripped(cause)));
    }
    if let Some((tag, sequence)) = confirmed
        && (turned || sequence < first)
    {
        tell(store, at, &Entry::Confirmed(tag));
    }
    Remembered {
        tripped: tripped.map(|(cause, _)| cause),
        confirmed: confirmed.map(|(tag, _)| tag),
    }
}

fn tell<F: NorFlash>(store: &mut Store<F>, at: Instant, entry: &Entry) -> bool {
    encode(at, entry).is_some_and(|record| store.tell(&record).is_ok())
}

/// postcard begins with the number of the entry: that is the kind of the record.
#[inline]
fn encode(at: Instant, entry: &Entry) -> Option<Record> {
    let mut bytes = [0; 8];
    let mut room = Room::new(&mut bytes);
    room.message(entry)?;
    let (kind, what) = room.written().split_first()?;
    let seconds = u32::try_from(at.millis() / 1000).unwrap_or(u32::MAX).min(0x00FF_FFFF);
    let mut record = Record { kind: *kind, data: [0; 7] };
    let (when, rest) = record.data.split_at_mut_checked(WHEN_BYTES)?;
    for (place, byte) in when.iter_mut().zip(seconds.to_le_bytes()) {
        *place = byte;
    }
    rest.get_mut(..what.len())?.copy_from_slice(what);
    Some(record)
}

#[inline]
fn decode(told: &Told) -> Option<LogLine> {
    let [a, b, c, what @ ..] = told.record.data;
    let [w, x, y, z] = what;
    // What follows the entry is room that it did not need.
    let (entry, _) = postcard::take_from_bytes(&[told.record.kind, w, x, y, z]).ok()?;
    let at_s = u32::from_le_bytes([a, b, c, 0]);
    Some(LogLine { number: told.sequence, boot: told.boot, at_s, entry })
}
