//! Log entries as records of the journal, and the state that they retain across a power failure.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::buffer::ByteBuffer;
use saggar_core::controller::Bookmark;
use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::units::Instant;

use crate::store::{JournalRecord, Store, StoredRecord};
use crate::wire::{LogEntry, LogEvent};

/// The step of a first line that says that no bookmark follows any more.
pub(super) const NO_STEP: u8 = u8::MAX;

/// Bytes of a record for the time (s): half a year. The rest holds the event.
const TIME_BYTES: usize = 3;

/// State that outlives a power failure. It is recorded again where the next rotation of the journal
/// would erase it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RetainedState {
    /// The cause of a trip that was not accepted, over any number of power failures.
    pub(super) tripped: Option<Cause>,
    /// The [`confirmation_tag`] of the programme that was confirmed after the last commit.
    pub(super) confirmed: Option<[u8; 4]>,
    /// The bookmark of a firing that a power cut interrupted.
    pub(super) bookmark: Option<Bookmark>,
}

/// Ties a confirmation to its programme: other bytes of the digest than the entry of its commit has.
pub(super) fn confirmation_tag(digest: &[u8; DIGEST_BYTES]) -> [u8; 4] {
    let [_, _, _, _, a, b, c, d, ..] = *digest;
    [a, b, c, d]
}

/// The two lines of a bookmark.
pub(super) const fn bookmark_lines(bookmark: &Bookmark) -> [LogEvent; 2] {
    let Bookmark { step, gathered_s, reading_c, flags } = *bookmark;
    [
        LogEvent::FiringPosition { step, gathered_s },
        LogEvent::FiringState { reading_c, flags: flags & !Bookmark::OVER },
    ]
}

/// Finds the retained state, from the oldest entry on. Each value comes with the sequence number of its
/// first entry.
#[derive(Default)]
struct RetainedSearch {
    tripped: Option<(Cause, u32)>,
    confirmed: Option<([u8; 4], u32)>,
    /// First line of a bookmark.
    position: Option<(u8, u16, u32)>,
    bookmark: Option<(Bookmark, u32)>,
}

impl RetainedSearch {
    fn visit(&mut self, sequence: u32, event: LogEvent) {
        let position = self.position.take();
        match event {
            LogEvent::Core(event) => self.visit_core(sequence, event),
            LogEvent::Confirmed(tag) => self.confirmed = Some((tag, sequence)),
            LogEvent::Programme(_) => (self.confirmed, self.bookmark) = (None, None),
            LogEvent::StopRequested => self.bookmark = None,
            LogEvent::FiringPosition { step: NO_STEP, .. } => self.bookmark = None,
            LogEvent::FiringPosition { step, gathered_s } => {
                self.position = Some((step, gathered_s, sequence));
            }
            LogEvent::FiringState { reading_c, flags } => {
                let whole =
                    position.filter(|(_, _, first)| first.checked_add(1) == Some(sequence));
                if let Some((step, gathered_s, first)) = whole {
                    let bookmark = Bookmark { step, gathered_s, reading_c, flags };
                    self.bookmark = Some((bookmark, first));
                }
            }
            LogEvent::Booted
            | LogEvent::LegacyLockOut
            | LogEvent::EntriesLost(_)
            | LogEvent::LockOuts(_) => {}
        }
    }

    fn visit_core(&mut self, sequence: u32, event: EventKind) {
        match event {
            EventKind::Tripped(cause) => {
                (self.tripped, self.bookmark) = (Some((cause, sequence)), None);
            }
            EventKind::TripAccepted => self.tripped = None,
            EventKind::FiringStarted
            | EventKind::FiringEnded(_)
            | EventKind::FiringDiscarded => self.bookmark = None,
            // The power failed before the bookmark of this step was complete.
            EventKind::StepStarted(step) => {
                if let Some((bookmark, _)) = &mut self.bookmark {
                    (bookmark.step, bookmark.gathered_s) = (step, 0);
                }
            }
            EventKind::VacuumReached
            | EventKind::HoldStarted
            | EventKind::ChannelFailed(_)
            | EventKind::WaitIsLong(_)
            | EventKind::HeaterWeak
            | EventKind::ContactChecked
            | EventKind::FiringResumed(_) => {}
        }
    }
}

/// Reads the retained state. Call it before the boot is counted, which may rotate the journal.
#[inline(never)]
pub(super) fn read_retained<F: NorFlash>(store: &mut Store<F>) -> RetainedState {
    let mut search = RetainedSearch::default();
    let walk = store.for_each_record(0, |stored| {
        match decode(&stored) {
            Some(line) => search.visit(stored.sequence, line.event),
            // No bookmark is read across a line of another firmware.
            None => search.position = None,
        }
        true
    });
    let RetainedSearch { tripped, mut confirmed, mut bookmark, .. } = search;
    // If reading failed half-way, a trip found so far still holds; a confirmation does not, since a
    // commit may have followed it, nor a bookmark, since the firing may have ended.
    if walk.is_err() {
        (confirmed, bookmark) = (None, None);
    }
    if tripped.is_none() && confirmed.is_none() {
        return RetainedState::default();
    }
    let rotated = store.journal_free() == 0 && store.rotate_journal().is_ok();
    let used = store.journal_capacity().saturating_sub(store.journal_free());
    let oldest = store.next_sequence().saturating_sub(used);
    let mut keep = |sequence: u32, event: &LogEvent| {
        if rotated || sequence < oldest {
            append(store, Instant::default(), event);
        }
    };
    if let Some((cause, sequence)) = tripped {
        keep(sequence, &LogEvent::Core(EventKind::Tripped(cause)));
    }
    if let Some((bookmark, sequence)) = bookmark {
        for line in bookmark_lines(&bookmark) {
            keep(sequence, &line);
        }
    }
    if let Some((tag, sequence)) = confirmed {
        keep(sequence, &LogEvent::Confirmed(tag));
    }
    RetainedState {
        tripped: tripped.map(|(cause, _)| cause),
        confirmed: confirmed.map(|(tag, _)| tag),
        bookmark: bookmark.map(|(bookmark, _)| bookmark),
    }
}

pub(super) fn append<F: NorFlash>(store: &mut Store<F>, at: Instant, event: &LogEvent) -> bool {
    encode(at, event).is_some_and(|record| store.append_record(&record).is_ok())
}

/// postcard begins with the index of the variant, which becomes the kind of the record.
#[inline]
fn encode(at: Instant, event: &LogEvent) -> Option<JournalRecord> {
    let mut bytes = [0; 8];
    let mut buffer = ByteBuffer::new(&mut bytes);
    buffer.encode(event)?;
    let (kind, payload) = buffer.filled().split_first()?;
    let seconds = u32::try_from(at.millis() / 1000).unwrap_or(u32::MAX).min(0x00FF_FFFF);
    let mut record = JournalRecord { kind: *kind, data: [0; 7] };
    let (time, rest) = record.data.split_at_mut_checked(TIME_BYTES)?;
    for (place, byte) in time.iter_mut().zip(seconds.to_le_bytes()) {
        *place = byte;
    }
    rest.get_mut(..payload.len())?.copy_from_slice(payload);
    Some(record)
}

#[inline]
pub(super) fn decode(stored: &StoredRecord) -> Option<LogEntry> {
    let [a, b, c, payload @ ..] = stored.record.data;
    let [w, x, y, z] = payload;
    // Unused bytes may follow the event.
    let (event, _) = postcard::take_from_bytes(&[stored.record.kind, w, x, y, z]).ok()?;
    let at_s = u32::from_le_bytes([a, b, c, 0]);
    Some(LogEntry { number: stored.sequence, boot: stored.boot, at_s, event })
}
