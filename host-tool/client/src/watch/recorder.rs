//! Records the ticks of a device, up to the limits of what a correct device can send.

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

/// Time between two flushes of the recording.
const FLUSH_INTERVAL: Duration = Duration::from_secs(1);

/// The longest firing that any furnace's profile allows (s): a week.
const FIRING_MAX_S: u32 = 168 * 3600;

/// Greatest speed of a stand-in without a firing.
const IDLE_SPEED_MAX: u64 = 20;

/// Ticks per second of the device's time.
const TICKS_PER_S: u64 = 1000 / TICK_MS as u64;

/// Bytes allowed for everything but ticks: header, programmes and origins.
const OVERHEAD_BYTES: u64 = 1 << 20;

/// Least time between two ticks (ms), after a first second by which a tick may be late.
const TICK_INTERVAL_MIN_MS: u64 = TICK_MS as u64 / 2;
const FIRST_TICK_LATE_MS: u64 = 1000;

/// What was recorded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RecordingStats {
    /// Ticks recorded.
    pub ticks: u64,
    /// Ticks lost on the link.
    pub lost: u64,
}

/// A recording being written.
pub(super) struct Recorder {
    path: PathBuf,
    writer: Writer,
    /// The longest firing of this furnace (s).
    firing_s: u32,
    /// When the first batch came, and the last flush.
    started_at: Option<Duration>,
    flushed_at: Duration,
    programme: Option<[u8; DIGEST_BYTES]>,
    /// Number of the last tick, unless ticks are missing since the last origin.
    last_contiguous: Option<u32>,
    /// Number of the last tick or origin since the device started.
    last_tick: Option<u32>,
    /// Number and time (ms) of the first tick recorded since the device started.
    first_tick: Option<(u32, u64)>,
    pub(super) stats: RecordingStats,
}

impl Recorder {
    /// Creates a recording for this device and these furnace data.
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

    /// Flushes the recording if that is due, and checks its size.
    ///
    /// # Errors
    /// The disk is full, or the recording is larger than a correct device can have made it by now.
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

    /// Most bytes after this time: the longest firing of this furnace, at any speed, and the ticks
    /// without a firing.
    fn bytes_max(&self, elapsed: Duration) -> u64 {
        let rest_s = elapsed.as_secs().saturating_mul(IDLE_SPEED_MAX);
        let seconds = u64::from(self.firing_s).saturating_add(rest_s);
        seconds
            .saturating_mul(TICKS_PER_S * RECORDED_TICK_BYTES_MAX)
            .saturating_add(OVERHEAD_BYTES)
    }

    /// Whether the recording has this programme.
    pub(super) fn has_programme(&self, programme: &[u8; DIGEST_BYTES]) -> bool {
        self.programme.as_ref() == Some(programme)
    }

    /// Writes the programme that the next origin names.
    pub(super) fn programme(
        &mut self,
        digest: [u8; DIGEST_BYTES],
        bytes: &[u8],
    ) -> Result<(), ClientError> {
        self.writer.programme(bytes)?;
        self.programme = Some(digest);
        Ok(())
    }

    /// Whether an origin with this number can only come from a device that has restarted.
    pub(super) fn precedes_last_tick(&self, number: u32) -> bool {
        self.last_tick.is_some_and(|heard| number < heard)
    }

    /// The device has restarted: its numbers and its time begin again.
    pub(super) fn on_restart(&mut self) {
        (self.last_contiguous, self.last_tick, self.first_tick) = (None, None, None);
    }

    /// Ticks up to the next origin cannot be replayed.
    pub(super) fn on_gap(&mut self) {
        self.last_contiguous = None;
    }

    /// Writes an origin.
    ///
    /// # Errors
    /// The disk is full, or no correct device sends this.
    pub(super) fn write_origin(&mut self, origin: &Origin<'_>) -> Result<(), ClientError> {
        if self.precedes_last_tick(origin.number) {
            return Err(
                LinkError::InvalidReply("an origin before ticks that it has sent").into()
            );
        }
        self.writer.origin(origin)?;
        // Ticks since the last one that arrived.
        if let Some(heard) = self.last_tick {
            self.stats.lost += u64::from(origin.number.saturating_sub(heard));
        }
        self.last_tick = Some(origin.number);
        self.last_contiguous = Some(origin.number);
        Ok(())
    }

    /// Writes a tick; false if ticks before it were lost, so that another origin is needed. A
    /// duplicate is ignored.
    ///
    /// # Errors
    /// The disk is full, or no correct device sends this.
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
            return Err(LinkError::InvalidReply("ticks without any time between them").into());
        }
        self.writer.tick(tick)?;
        self.stats.ticks += 1;
        self.stats.lost += u64::from(missing);
        self.last_tick = Some(tick.number);
        self.last_contiguous = (missing == 0).then_some(tick.number);
        Ok(missing == 0)
    }

    /// Flushes the recording.
    pub(super) fn flush(&mut self) -> Result<(), ClientError> {
        Ok(self.writer.flush()?)
    }

    /// The error of a recording that ended early, with what there is of it.
    pub(super) fn interrupted(&self, why: ClientError) -> ClientError {
        ClientError::RecordingInterrupted {
            cause: Box::new(why),
            path: self.path.clone(),
            ticks: self.stats.ticks,
            last_tick: self.last_tick,
        }
    }
}
