//! The log of what a device tells, as far as a true device can tell it.

use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use saggar_core::TICK_MS;
use saggar_core::furnace::Furnace;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{Hello, Origin, Tick};
use serde::Serialize;

use crate::ClientError;
use crate::link::LinkError;
use crate::logfile::{LogHeader, RECORDED_TICK_BYTES_MAX, Writer};

/// What is written is handed to the system this often.
const FLUSH_INTERVAL: Duration = Duration::from_secs(1);

/// The longest firing that any furnace's profile allows (s): a week.
const FIRING_MAX_S: u32 = 168 * 3600;

/// A stand-in at rest lives at most this many times faster than we do.
const IDLE_SPEED_MAX: u64 = 20;

/// Ticks a second of a device's own time.
const TICKS_PER_S: u64 = 1000 / TICK_MS as u64;

/// Room for what a log has besides ticks: head, programmes and origins.
const OVERHEAD_BYTES: u64 = 1 << 20;

/// Less time than this (ms) does not pass in a tick, but for a first second that a tick may have
/// come late.
const TICK_INTERVAL_MIN_MS: u64 = TICK_MS as u64 / 2;
const FIRST_TICK_LATE_MS: u64 = 1000;

/// What was recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RecordingStats {
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
    started_at: Option<Duration>,
    flushed_at: Duration,
    programme: Option<[u8; DIGEST_BYTES]>,
    /// Number of the last tick of the stretch at hand.
    last_contiguous: Option<u32>,
    /// Number of the last tick that was heard at all since the device came up.
    last_tick: Option<u32>,
    /// Number and time (ms) of the first one that was recorded since the device came up.
    first_tick: Option<(u32, u64)>,
    pub(super) stats: RecordingStats,
}

impl Recorder {
    /// Begins a log of this device, whose furnace has these data.
    pub(super) fn create(
        path: &Path,
        hello: &Hello,
        furnace: Vec<u8>,
    ) -> Result<Self, ClientError> {
        let allowed = postcard::from_bytes::<Furnace>(&furnace)
            .map_or(FIRING_MAX_S, |furnace| furnace.limits.firing_max_s);
        let began_s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |at| at.as_secs());
        let head = LogHeader { device: hello.device, image: hello.version, began_s, furnace };
        Ok(Self {
            path: path.to_path_buf(),
            writer: Writer::create(path, &head)?,
            firing_s: allowed.min(FIRING_MAX_S),
            started_at: None,
            flushed_at: Duration::ZERO,
            programme: None,
            last_contiguous: None,
            last_tick: None,
            first_tick: None,
            stats: RecordingStats::default(),
        })
    }

    /// It is this late: what was written so far is handed to the system now and then.
    ///
    /// # Errors
    /// The disk takes no more; or there is more than a true device can have told by now.
    pub(super) fn on_time(&mut self, now: Duration) -> Result<(), ClientError> {
        let since = *self.started_at.get_or_insert(now);
        let most = self.bytes_max(now.saturating_sub(since));
        if self.writer.written() > most {
            return Err(ClientError::RecordingTooLarge { limit_mb: most.div_ceil(1_000_000) });
        }
        if now.saturating_sub(self.flushed_at) > FLUSH_INTERVAL {
            self.flushed_at = now;
            self.writer.flush()?;
        }
        Ok(())
    }

    /// Most bytes after so long: the longest firing of this furnace, however fast it was, and what
    /// a furnace at rest tells.
    fn bytes_max(&self, elapsed: Duration) -> u64 {
        let rest_s = elapsed.as_secs().saturating_mul(IDLE_SPEED_MAX);
        let seconds = u64::from(self.firing_s).saturating_add(rest_s);
        seconds
            .saturating_mul(TICKS_PER_S * RECORDED_TICK_BYTES_MAX)
            .saturating_add(OVERHEAD_BYTES)
    }

    /// The log has this programme.
    pub(super) fn has_programme(&self, programme: &[u8; DIGEST_BYTES]) -> bool {
        self.programme.as_ref() == Some(programme)
    }

    /// Takes the programme that the next origin names.
    pub(super) fn programme(
        &mut self,
        digest: [u8; DIGEST_BYTES],
        bytes: &[u8],
    ) -> Result<(), ClientError> {
        self.writer.programme(bytes)?;
        self.programme = Some(digest);
        Ok(())
    }

    /// An origin with this number can only be of a device that came up anew.
    pub(super) fn precedes_last_tick(&self, number: u32) -> bool {
        self.last_tick.is_some_and(|heard| number < heard)
    }

    /// The device came up anew: its numbers and its time begin again.
    pub(super) fn on_restart(&mut self) {
        (self.last_contiguous, self.last_tick, self.first_tick) = (None, None, None);
    }

    /// Nothing is known of what follows, up to the next origin.
    pub(super) fn on_gap(&mut self) {
        self.last_contiguous = None;
    }

    /// Takes an origin that was asked for.
    ///
    /// # Errors
    /// The disk takes no more, or no true device says this.
    pub(super) fn write_origin(&mut self, origin: &Origin<'_>) -> Result<(), ClientError> {
        if self.precedes_last_tick(origin.number) {
            return Err(
                LinkError::InvalidReply("an origin before the ticks that it told").into()
            );
        }
        self.writer.origin(origin)?;
        // What went by since the last tick that was heard, while nobody was told of any.
        if let Some(heard) = self.last_tick {
            self.stats.lost += u64::from(origin.number.saturating_sub(heard));
        }
        self.last_tick = Some(origin.number);
        self.last_contiguous = Some(origin.number);
        Ok(())
    }

    /// Takes a tick; false if some before it were lost, so that another origin is needed. One that
    /// was told before is told once more by a line that doubles, and is not written again.
    ///
    /// # Errors
    /// The disk takes no more, or no true device says this.
    pub(super) fn write_tick(&mut self, tick: &Tick) -> Result<bool, ClientError> {
        let Some(last) = self.last_contiguous else { return Ok(true) };
        let Some(missing) =
            tick.number.checked_sub(last).and_then(|since| since.checked_sub(1))
        else {
            return Ok(true);
        };
        let (number, at_ms) = *self.first_tick.get_or_insert((tick.number, tick.at_ms));
        let ticks = u64::from(tick.number.saturating_sub(number));
        let passed = tick.at_ms.checked_sub(at_ms);
        let least =
            ticks.saturating_mul(TICK_INTERVAL_MIN_MS).saturating_sub(FIRST_TICK_LATE_MS);
        if passed.is_none_or(|passed| passed < least) {
            return Err(LinkError::InvalidReply("ticks in which its time does not pass").into());
        }
        self.writer.tick(tick)?;
        self.stats.ticks += 1;
        self.stats.lost += u64::from(missing);
        self.last_tick = Some(tick.number);
        self.last_contiguous = (missing == 0).then_some(tick.number);
        Ok(missing == 0)
    }

    /// Hands everything to the system.
    pub(super) fn flush(&mut self) -> Result<(), ClientError> {
        Ok(self.writer.flush()?)
    }

    /// Why the recording ends before its time, and what there is of it.
    pub(super) fn interrupted(&self, why: ClientError) -> ClientError {
        ClientError::RecordingInterrupted {
            cause: Box::new(why),
            path: self.path.clone(),
            ticks: self.stats.ticks,
            last_tick: self.last_tick,
        }
    }
}
