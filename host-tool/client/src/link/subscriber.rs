//! Following a device: what it tells of its own, and the questions that keep it telling.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Origin, Query, Subscription,
    Tick, encode_frame,
};

use super::{LinkError, Transaction};

/// News are handed over this often, if only to say that there are none; and those of a device whose
/// clock runs so many times faster than ours, or may: a stand-in.
const POLL_INTERVAL: Duration = Duration::from_millis(100);
const POLL_INTERVAL_FAST: Duration = Duration::from_millis(1);
const FAST_RATIO: f64 = 5.0;

/// A question this often keeps the device talking.
const KEEPALIVE: Duration = Duration::from_secs(10);

/// The same by the device's own clock (ms): a stand-in may live a thousand times faster than we do.
const KEEPALIVE_DEVICE_MS: u64 = 10_000;

/// On a slow line ticks leave no time for what comes after them, but an answer goes first.
const STATUS_TIMEOUT: Duration = Duration::from_millis(1500);

/// An origin is asked for no more often, whatever is missing: a line that loses as much is no use.
const ORIGIN_INTERVAL_MIN: Duration = Duration::from_millis(50);

/// Silence after which it is asked to talk again; the shorter for a fast one.
const SILENCE_TIMEOUT: Duration = Duration::from_secs(3);
const SILENCE_TIMEOUT_FAST: Duration = Duration::from_millis(200);

/// Silence after which the line counts as lost.
const LOST_TIMEOUT: Duration = Duration::from_secs(10);

/// Most news that wait while something else is asked of the device. A fast stand-in tells a few
/// hundred ticks meanwhile; what is more is lost, as on a line without time.
const QUEUED_UPDATES_MAX: usize = 1 << 16;

/// Something that the device told of its own.
#[derive(Clone, Debug, PartialEq)]
pub enum DeviceUpdate {
    /// How it stands.
    Status(DeviceStatus),
    /// The core's memory before the next tick, if it was asked for or the programme is another.
    Origin {
        /// Number of the last tick before it.
        number: u32,
        /// Digest of the programme that is loaded.
        programme: Option<[u8; DIGEST_BYTES]>,
        /// The memory.
        memory: Vec<u8>,
    },
    /// A tick.
    Tick(Tick),
}

impl DeviceUpdate {
    /// The device's time, if it is in it (ms).
    fn at_ms(&self) -> Option<u64> {
        match self {
            Self::Status(status) => Some(status.at_ms),
            Self::Tick(tick) => Some(tick.at_ms),
            Self::Origin { .. } => None,
        }
    }
}

/// What was told since the last time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UpdateBatch {
    /// When it is handed over.
    pub received_at: Duration,
    /// In the order in which it was told.
    pub updates: Vec<DeviceUpdate>,
}

/// Following a device. It has no end of its own: its outcome is the next [`Batch`], as often as it
/// is asked for one, until the device falls silent.
#[derive(Debug, Default)]
pub struct Subscriber {
    now: Duration,
    queue: Vec<DeviceUpdate>,
    /// When something was heard, asked, and handed over last; nothing before the first question.
    received_at: Duration,
    asked_at: Option<Duration>,
    status_at: Duration,
    delivered_at: Duration,
    /// The device is to begin anew, with an origin.
    origin_wanted: bool,
    /// An origin was asked for and has not come; and when one was asked for last.
    origin_requested: bool,
    origin_requested_at: Option<Duration>,
    /// The programme that the last one named.
    programme: Option<[u8; DIGEST_BYTES]>,
    clock_ratio: ClockRatio,
    /// The device's time, and that of the last question.
    device_ms: Option<u64>,
    asked_ms: Option<u64>,
}

impl Subscriber {
    /// Begins with the next frame.
    pub fn new() -> Self {
        Self { origin_wanted: true, ..Self::default() }
    }

    /// Asks for an origin, unless one is under way already.
    pub fn resync(&mut self) {
        self.origin_wanted |= !self.origin_requested;
    }

    fn next_request(&mut self) -> Option<Query> {
        let now = self.now;
        let asked_at = *self.asked_at.get_or_insert_with(|| {
            (self.received_at, self.status_at, self.delivered_at) = (now, now, now);
            now
        });
        let silence =
            if self.clock_ratio.is_fast() { SILENCE_TIMEOUT_FAST } else { SILENCE_TIMEOUT };
        let silent = now.saturating_sub(self.received_at.max(asked_at)) > silence;
        let soon = self
            .origin_requested_at
            .is_some_and(|at| now.saturating_sub(at) < ORIGIN_INTERVAL_MIN);
        if self.origin_wanted && !soon || silent {
            self.origin_wanted = false;
            self.origin_requested = true;
            self.origin_requested_at = Some(now);
            self.note_request(now);
            return Some(Query::Subscribe(Subscription { ticks: true, status: true }));
        }
        let due = keepalive_is_due(self.asked_ms, self.device_ms);
        let no_status = now.saturating_sub(self.status_at.max(asked_at)) > STATUS_TIMEOUT;
        if due || no_status || now.saturating_sub(asked_at) > KEEPALIVE {
            self.note_request(now);
            return Some(Query::Status);
        }
        None
    }

    fn note_request(&mut self, now: Duration) {
        self.asked_at = Some(now);
        self.asked_ms = self.device_ms.or(self.asked_ms);
    }

    fn on_tell(&mut self, tell: &Notice<'_>) {
        let news = if let Notice::Tick(tick) = tell {
            DeviceUpdate::Tick(*tick)
        } else if let Notice::Status(status) = tell {
            self.status_at = self.now;
            DeviceUpdate::Status(*status)
        } else if let Notice::Origin(Origin { number, programme, memory }) = tell {
            // A device of ours tells none that was not asked for, but where another programme
            // begins: somebody else may have uploaded one.
            if !self.origin_requested && *programme == self.programme {
                return;
            }
            self.origin_requested = false;
            self.programme = *programme;
            DeviceUpdate::Origin {
                number: *number,
                programme: *programme,
                memory: memory.to_vec(),
            }
        } else {
            return;
        };
        self.received_at = self.now;
        if let Some(at) = news.at_ms() {
            self.device_ms = Some(at);
            self.clock_ratio.observe(self.now, at);
        }
        if self.queue.len() < QUEUED_UPDATES_MAX {
            self.queue.push(news);
        }
    }

    fn poll_interval(&self) -> Duration {
        if self.clock_ratio.is_fast() { POLL_INTERVAL_FAST } else { POLL_INTERVAL }
    }
}

impl Transaction for Subscriber {
    type Output = UpdateBatch;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        self.now = now;
        let ask = self.next_request()?;
        encode_frame(FrameKind::Query, None, &ask, frame)
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.now = now;
        if body.kind == FrameKind::Notice
            && let Ok(tell) = body.message::<Notice<'_>>()
        {
            self.on_tell(&tell);
        }
    }

    fn poll_at(&self) -> Duration {
        self.delivered_at + self.poll_interval()
    }

    fn take_result(&mut self) -> Option<Result<UpdateBatch, LinkError>> {
        if self.now.saturating_sub(self.received_at) > LOST_TIMEOUT {
            return Some(Err(LinkError::NoAnswer { broken_frames: 0 }));
        }
        if self.queue.is_empty() && self.now < self.poll_at() {
            return None;
        }
        self.delivered_at = self.now;
        let news = std::mem::take(&mut self.queue);
        Some(Ok(UpdateBatch { received_at: self.now, updates: news }))
    }
}

/// Another exchange while a device is followed: nothing that it tells meanwhile is lost.
#[derive(Debug)]
pub struct WithSubscriber<'a, E> {
    /// The exchange.
    pub main: &'a mut E,
    /// What goes on beside it.
    pub subscriber: &'a mut Subscriber,
}

impl<E: Transaction> Transaction for WithSubscriber<'_, E> {
    type Output = E::Output;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        self.main.transmit(now, frame).or_else(|| self.subscriber.transmit(now, frame))
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.subscriber.receive(now, body);
        self.main.receive(now, body);
    }

    fn poll_at(&self) -> Duration {
        self.main.poll_at().min(self.subscriber.poll_at())
    }

    fn take_result(&mut self) -> Option<Result<E::Output, LinkError>> {
        self.main.take_result()
    }
}

/// The device need not talk on. Nothing answers that is waited for.
#[derive(Debug, Default)]
pub struct Unsubscribe {
    sent: bool,
}

impl Transaction for Unsubscribe {
    type Output = ();

    fn transmit(&mut self, _: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if std::mem::replace(&mut self.sent, true) {
            return None;
        }
        encode_frame(FrameKind::Query, None, &Query::Subscribe(Subscription::default()), frame)
    }

    fn receive(&mut self, _: Duration, _: &FrameBody<'_>) {}

    fn poll_at(&self) -> Duration {
        Duration::ZERO
    }

    fn take_result(&mut self) -> Option<Result<(), LinkError>> {
        self.sent.then_some(Ok(()))
    }
}

/// By the device's own clock it is time for a question.
fn keepalive_is_due(asked_ms: Option<u64>, device_ms: Option<u64>) -> bool {
    match (asked_ms, device_ms) {
        (Some(asked), Some(at)) => at.saturating_sub(asked) > KEEPALIVE_DEVICE_MS || at < asked,
        (None, Some(_)) => true,
        (Some(_) | None, None) => false,
    }
}

/// How fast the device's clock runs.
#[derive(Debug, Default)]
struct ClockRatio {
    reference: Option<(Duration, u64)>,
    ratio: Option<f64>,
}

impl ClockRatio {
    /// Until it is known, it may be.
    fn is_fast(&self) -> bool {
        self.ratio.is_none_or(|times| times > FAST_RATIO)
    }

    fn observe(&mut self, now: Duration, at: u64) {
        let (since, from) = *self.reference.get_or_insert((now, at));
        let ours = now.saturating_sub(since);
        // A tick of the device is a tenth of a second: from half a second on there is a ratio.
        if ours >= Duration::from_millis(500) {
            let theirs = at.saturating_sub(from) as f64 / 1000.0;
            self.ratio = Some(theirs / ours.as_secs_f64());
            self.reference = Some((now, at));
        }
    }
}
