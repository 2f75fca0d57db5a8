//! The log of what a device tells, as far as a true device can tell it.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use saggar_core::TICK_MS;
use saggar_core::furnace::Furnace;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{Hello, Origin, Tick};
use serde::Serialize;

use crate::Error;
use crate::link::Failed;
use crate::logfile::{Head, RECORDED_TICK_BYTES_MAX, Writer};

/// What is written is handed to the system this often.
const FLUSH: Duration = Duration::from_secs(1);

/// The longest firing that any furnace's profile allows (s): a week.
const FIRING_MAX_S: u32 = 168 * 3600;

/// A stand-in at rest lives at most this many times faster than we do.
const REST_TIMES: u64 = 20;

/// Ticks a second of a device's own time.
const TICKS_PER_S: u64 = 1000 / TICK_MS as u64;

/// Room for what a log has besides ticks: head, programmes and origins.
const BESIDES_BYTES: u64 = 1 << 20;

/// Less time than this (ms) does not pass in a tick, but for a first second that a tick may have
/// come late.
const TICK_MIN_MS: u64 = TICK_MS as u64 / 2;
const LATE_MS: u64 = 1000;

/// What was recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Watched {
    /// Ticks that were recorded.
    pub ticks: u64,
    /// Ticks that the line lost.
    pub lost: u64,
}

/// The log that is written, and what it knows.
pub(super) struct Recorder {
    path: PathBuf,
    writer: Writer,
    /// The longest firing of this furnace (s).
    firing_s: u32,
    /// When the first news came, and the last flush.
    since: Option<Duration>,
    flushed_at: Duration,
    programme: Option<[u8; DIGEST_BYTES]>,
    /// Number of the last tick of the stretch at hand.
    last: Option<u32>,
    /// Number of the last tick that was heard at all since the device came up.
    heard: Option<u32>,
    /// Number and time (ms) of the first one that was recorded since the device came up.
    first: Option<(u32, u64)>,
    pub(super) watched: Watched,
}

impl Recorder {
    /// Begins a log of this device, whose furnace has these data.
    pub(super) fn begin(path: &Path, hello: &Hello, furnace: Vec<u8>) -> Result<Self, Error> {
        let allowed = postcard::from_bytes::<Furnace>(&furnace)
            .map_or(FIRING_MAX_S, |furnace| furnace.limits.firing_max_s);
        let began_s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |at| at.as_secs());
        let head = Head { device: hello.device, image: hello.version, began_s, furnace };
        Ok(Self {
            path: path.to_path_buf(),
            writer: Writer::create(path, &head)?,
            firing_s: allowed.min(FIRING_MAX_S),
            since: None,
            flushed_at: Duration::ZERO,
            programme: None,
            last: None,
            heard: None,
            first: None,
            watched: Watched::default(),
        })
    }

    /// It is this late: what was written so far is handed to the system now and then.
    ///
    /// # Errors
    /// The disk takes no more; or there is more than a true device can have told by now.
    pub(super) fn at(&mut self, now: Duration) -> Result<(), Error> {
        let since = *self.since.get_or_insert(now);
        let most = self.most_bytes(now.saturating_sub(since));
        if self.writer.written() > most {
            return Err(Error::Full { megabytes: most.div_ceil(1_000_000) });
        }
        if now.saturating_sub(self.flushed_at) > FLUSH {
            self.flushed_at = now;
            self.writer.flush()?;
        }
        Ok(())
    }

    /// Most bytes after so long: the longest firing of this furnace, however fast it was, and what
    /// a furnace at rest tells.
    fn most_bytes(&self, elapsed: Duration) -> u64 {
        let rest_s = elapsed.as_secs().saturating_mul(REST_TIMES);
        let seconds = u64::from(self.firing_s).saturating_add(rest_s);
        seconds
            .saturating_mul(TICKS_PER_S * RECORDED_TICK_BYTES_MAX)
            .saturating_add(BESIDES_BYTES)
    }

    /// The log has this programme.
    pub(super) fn has(&self, programme: &[u8; DIGEST_BYTES]) -> bool {
        self.programme.as_ref() == Some(programme)
    }

    /// Takes the programme that the next origin names.
    pub(super) fn programme(
        &mut self,
        digest: [u8; DIGEST_BYTES],
        bytes: &[u8],
    ) -> Result<(), Error> {
        self.writer.programme(bytes)?;
        self.programme = Some(digest);
        Ok(())
    }

    /// An origin with this number can only be of a device that came up anew.
    pub(super) fn goes_back(&self, number: u32) -> bool {
        self.heard.is_some_and(|heard| number < heard)
    }

    /// The device came up anew: its numbers and its time begin again.
    pub(super) fn anew(&mut self) {
        (self.last, self.heard, self.first) = (None, None, None);
    }

    /// Nothing is known of what follows, up to the next origin.
    pub(super) fn interrupt(&mut self) {
        self.last = None;
    }

    /// Takes an origin that was asked for.
    ///
    /// # Errors
    /// The disk takes no more, or no true device says this.
    pub(super) fn origin(&mut self, origin: &Origin<'_>) -> Result<(), Error> {
        if self.goes_back(origin.number) {
            return Err(Failed::Odd("an origin before the ticks that it told").into());
        }
        self.writer.origin(origin)?;
        // What went by since the last tick that was heard, while nobody was told of any.
        if let Some(heard) = self.heard {
            self.watched.lost += u64::from(origin.number.saturating_sub(heard));
        }
        self.heard = Some(origin.number);
        self.last = Some(origin.number);
        Ok(())
    }

    /// Takes a tick; false if some before it were lost, so that another origin is needed. One that
    /// was told before is told once more by a line that doubles, and is not written again.
    ///
    /// # Errors
    /// The disk takes no more, or no true device says this.
    pub(super) fn tick(&mut self, tick: &Tick) -> Result<bool, Error> {
        let Some(last) = self.last else { return Ok(true) };
        let Some(missing) =
            tick.number.checked_sub(last).and_then(|since| since.checked_sub(1))
        else {
            return Ok(true);
        };
        let (number, at_ms) = *self.first.get_or_insert((tick.number, tick.at_ms));
        let ticks = u64::from(tick.number.saturating_sub(number));
        let passed = tick.at_ms.checked_sub(at_ms);
        let least = ticks.saturating_mul(TICK_MIN_MS).saturating_sub(LATE_MS);
        if passed.is_none_or(|passed| passed < least) {
            return Err(Failed::Odd("ticks in which its time does not pass").into());
        }
        self.writer.tick(tick)?;
        self.watched.ticks += 1;
        self.watched.lost += u64::from(missing);
        self.heard = Some(tick.number);
        self.last = (missing == 0).then_some(tick.number);
        Ok(missing == 0)
    }

    /// Hands everything to the system.
    pub(super) fn flush(&mut self) -> Result<(), Error> {
        Ok(self.writer.flush()?)
    }

    /// Why the recording ends before its time, and what there is of it.
    pub(super) fn ended(&self, why: Error) -> Error {
        Error::Recording {
            why: Box::new(why),
            path: self.path.clone(),
            ticks: self.watched.ticks,
            last: self.heard,
        }
    }
}
