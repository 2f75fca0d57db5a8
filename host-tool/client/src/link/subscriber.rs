//! A subscription to a device's updates, and the queries that keep it alive.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Origin, Query, Subscription,
    Tick, encode_frame,
};

use super::{LinkError, Transaction};

/// Longest time between two batches, empty ones included; the shorter one for a device whose clock
/// runs, or may run, [`FAST_RATIO`] times faster than ours: a stand-in.
const POLL_INTERVAL: Duration = Duration::from_millis(100);
const POLL_INTERVAL_FAST: Duration = Duration::from_millis(1);
const FAST_RATIO: f64 = 5.0;

/// Time between two queries; without them the device ends the subscription.
const KEEPALIVE: Duration = Duration::from_secs(10);

/// The same by the device's clock (ms), which in a stand-in may run a thousand times faster.
const KEEPALIVE_DEVICE_MS: u64 = 10_000;

/// Time without a status after which one is queried: on a slow link ticks displace the device's own
/// statuses, but replies go first.
const STATUS_TIMEOUT: Duration = Duration::from_millis(1500);

/// Least time between two requests for an origin, however many ticks are lost.
const ORIGIN_INTERVAL_MIN: Duration = Duration::from_millis(50);

/// Silence after which the subscription is renewed; the shorter one for a fast device.
const SILENCE_TIMEOUT: Duration = Duration::from_secs(3);
const SILENCE_TIMEOUT_FAST: Duration = Duration::from_millis(200);

/// Silence after which the connection counts as lost.
const LOST_TIMEOUT: Duration = Duration::from_secs(10);

/// The most updates to queue while another transaction runs. A fast stand-in sends a few hundred
/// ticks meanwhile; updates beyond the limit are dropped.
const QUEUED_UPDATES_MAX: usize = 1 << 16;

/// An update that a subscribed device sends.
#[derive(Clone, Debug, PartialEq)]
pub enum DeviceUpdate {
    /// Its status.
    Status(DeviceStatus),
    /// The core's memory before the next tick: sent on request, and after the programme changed.
    Origin {
        /// Number of the last tick before it.
        number: u32,
        /// Digest of the loaded programme.
        programme: Option<[u8; DIGEST_BYTES]>,
        /// The memory.
        memory: Vec<u8>,
    },
    /// A tick.
    Tick(Tick),
}

impl DeviceUpdate {
    /// The device's time (ms), if the update has it.
    fn at_ms(&self) -> Option<u64> {
        match self {
            Self::Status(status) => Some(status.at_ms),
            Self::Tick(tick) => Some(tick.at_ms),
            Self::Origin { .. } => None,
        }
    }
}

/// The updates since the last batch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct UpdateBatch {
    /// When the batch was handed over.
    pub received_at: Duration,
    /// In the order in which they were sent.
    pub updates: Vec<DeviceUpdate>,
}

/// A subscription. As a transaction it never ends: each result is the next [`UpdateBatch`], until
/// the device goes silent.
#[derive(Debug, Default)]
pub struct Subscriber {
    now: Duration,
    queue: Vec<DeviceUpdate>,
    /// When an update last arrived, a query was sent, a status arrived, and a batch was delivered.
    received_at: Duration,
    asked_at: Option<Duration>,
    status_at: Duration,
    delivered_at: Duration,
    /// An origin is to be requested.
    origin_wanted: bool,
    /// An origin was requested and has not arrived; and when the last request was sent.
    origin_requested: bool,
    origin_requested_at: Option<Duration>,
    /// The programme of the last origin.
    programme: Option<[u8; DIGEST_BYTES]>,
    clock_ratio: ClockRatio,
    /// The device's time, now and at the last query.
    device_ms: Option<u64>,
    asked_ms: Option<u64>,
}

impl Subscriber {
    /// A subscription that begins with the next frame.
    pub fn new() -> Self {
        Self { origin_wanted: true, ..Self::default() }
    }

    /// Requests an origin, unless one is on its way already.
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
            // A correct device sends an origin only on request, or after another client has
            // uploaded a programme.
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

/// A transaction beside a subscription, which loses no update meanwhile.
#[derive(Debug)]
pub struct WithSubscriber<'a, E> {
    /// The transaction.
    pub main: &'a mut E,
    /// The subscription.
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

/// Ends a subscription. Waits for no reply.
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

/// Whether a query is due by the device's clock.
fn keepalive_is_due(asked_ms: Option<u64>, device_ms: Option<u64>) -> bool {
    match (asked_ms, device_ms) {
        (Some(asked), Some(at)) => at.saturating_sub(asked) > KEEPALIVE_DEVICE_MS || at < asked,
        (None, Some(_)) => true,
        (Some(_) | None, None) => false,
    }
}

/// How fast the device's clock runs compared with ours.
#[derive(Debug, Default)]
struct ClockRatio {
    reference: Option<(Duration, u64)>,
    ratio: Option<f64>,
}

impl ClockRatio {
    /// True until the ratio is known.
    fn is_fast(&self) -> bool {
        self.ratio.is_none_or(|times| times > FAST_RATIO)
    }

    fn observe(&mut self, now: Duration, at: u64) {
        let (since, from) = *self.reference.get_or_insert((now, at));
        let ours = now.saturating_sub(since);
        // Shorter times give no useful ratio: a tick is a tenth of a second.
        if ours >= Duration::from_millis(500) {
            let theirs = at.saturating_sub(from) as f64 / 1000.0;
            self.ratio = Some(theirs / ours.as_secs_f64());
            self.reference = Some((now, at));
        }
    }
}
