//! Lines of the log as records of the journal, and what they remember across a power failure.

use embedded_storage::nor_flash::NorFlash;
use saggar_core::buffer::ByteBuffer;
use saggar_core::events::EventKind;
use saggar_core::interlock::Cause;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::units::Instant;

use crate::store::{JournalRecord, Store, StoredRecord};
use crate::wire::{LogEntry, LogEvent};

/// Bytes of a record that tell when (s); the rest tells what. Half a year fits.
const WHEN_BYTES: usize = 3;

/// What holds across a power failure. It is told again where the next turn of the journal would
/// forget it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RetainedState {
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
pub(super) fn remembered<F: NorFlash>(store: &mut Store<F>) -> RetainedState {
    let (mut tripped, mut confirmed) = (None, None);
    let seen = store.for_each_record(0, |told| {
        match decode(&told).map(|line| line.event) {
            Some(LogEvent::Core(EventKind::Tripped(cause))) => {
                tripped = Some((cause, told.sequence))
            }
            Some(LogEvent::Core(EventKind::TripAccepted)) => tripped = None,
            Some(LogEvent::Confirmed(tag)) => confirmed = Some((tag, told.sequence)),
            Some(LogEvent::Programme(_)) => confirmed = None,
            Some(
                LogEvent::Core(
                    EventKind::FiringStarted
                    | EventKind::StepStarted(_)
                    | EventKind::VacuumReached
                    | EventKind::HoldStarted
                    | EventKind::FiringEnded(_),
                )
                | LogEvent::Booted
                | LogEvent::StopRequested
                | LogEvent::LegacyLockOut
                | LogEvent::EntriesLost(_)
                | LogEvent::LockOuts(_),
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
        return RetainedState::default();
    }
    let turned = store.journal_free() == 0 && store.rotate_journal().is_ok();
    let used = store.journal_capacity().saturating_sub(store.journal_free());
    let first = store.next_sequence().saturating_sub(used);
    let at = Instant::default();
    if let Some((cause, sequence)) = tripped
        && (turned || sequence < first)
    {
        tell(store, at, &LogEvent::Core(EventKind::Tripped(cause)));
    }
    if let Some((tag, sequence)) = confirmed
        && (turned || sequence < first)
    {
        tell(store, at, &LogEvent::Confirmed(tag));
    }
    RetainedState {
        tripped: tripped.map(|(cause, _)| cause),
        confirmed: confirmed.map(|(tag, _)| tag),
    }
}

pub(super) fn tell<F: NorFlash>(store: &mut Store<F>, at: Instant, entry: &LogEvent) -> bool {
    encode(at, entry).is_some_and(|record| store.append_record(&record).is_ok())
}

/// postcard begins with the number of the entry: that is the kind of the record.
#[inline]
fn encode(at: Instant, entry: &LogEvent) -> Option<JournalRecord> {
    let mut bytes = [0; 8];
    let mut room = ByteBuffer::new(&mut bytes);
    room.encode(entry)?;
    let (kind, what) = room.filled().split_first()?;
    let seconds = u32::try_from(at.millis() / 1000).unwrap_or(u32::MAX).min(0x00FF_FFFF);
    let mut record = JournalRecord { kind: *kind, data: [0; 7] };
    let (when, rest) = record.data.split_at_mut_checked(WHEN_BYTES)?;
    for (place, byte) in when.iter_mut().zip(seconds.to_le_bytes()) {
        *place = byte;
    }
    rest.get_mut(..what.len())?.copy_from_slice(what);
    Some(record)
}

#[inline]
pub(super) fn decode(told: &StoredRecord) -> Option<LogEntry> {
    let [a, b, c, what @ ..] = told.record.data;
    let [w, x, y, z] = what;
    // What follows the entry is room that it did not need.
    let (entry, _) = postcard::take_from_bytes(&[told.record.kind, w, x, y, z]).ok()?;
    let at_s = u32::from_le_bytes([a, b, c, 0]);
    Some(LogEntry { number: told.sequence, boot: told.boot, at_s, event: entry })
}
