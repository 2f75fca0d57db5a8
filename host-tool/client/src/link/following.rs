//! Following a device: what it tells of its own, and the questions that keep it telling.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{
    DeviceStatus, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Origin, Query, Subscription,
    Tick, encode_frame,
};

use super::{Exchange, Failed};

/// News are handed over this often, if only to say that there are none; and those of a device whose
/// clock runs so many times faster than ours, or may: a stand-in.
const GLANCE: Duration = Duration::from_millis(100);
const GLANCE_FAST: Duration = Duration::from_millis(1);
const FAST: f64 = 5.0;

/// A question this often keeps the device talking.
const KEEP: Duration = Duration::from_secs(10);

/// The same by the device's own clock (ms): a stand-in may live a thousand times faster than we do.
const KEEP_MS: u64 = 10_000;

/// On a slow line ticks leave no time for what comes after them, but an answer goes first.
const STATUS: Duration = Duration::from_millis(1500);

/// An origin is asked for no more often, whatever is missing: a line that loses as much is no use.
const ORIGIN: Duration = Duration::from_millis(50);

/// Silence after which it is asked to talk again; the shorter for a fast one.
const SILENCE: Duration = Duration::from_secs(3);
const SILENCE_FAST: Duration = Duration::from_millis(200);

/// Silence after which the line counts as lost.
const GONE: Duration = Duration::from_secs(10);

/// Most news that wait while something else is asked of the device. A fast stand-in tells a few
/// hundred ticks meanwhile; what is more is lost, as on a line without time.
const NEWS_MAX: usize = 1 << 16;

/// Something that the device told of its own.
#[derive(Clone, Debug, PartialEq)]
pub enum News {
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

impl News {
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
pub struct Batch {
    /// When it is handed over.
    pub at: Duration,
    /// In the order in which it was told.
    pub news: Vec<News>,
}

/// Following a device. It has no end of its own: its outcome is the next [`Batch`], as often as it
/// is asked for one, until the device falls silent.
#[derive(Debug, Default)]
pub struct Following {
    now: Duration,
    news: Vec<News>,
    /// When something was heard, asked, and handed over last; nothing before the first question.
    heard_at: Duration,
    asked_at: Option<Duration>,
    status_at: Duration,
    handed_at: Duration,
    /// The device is to begin anew, with an origin.
    begin: bool,
    /// An origin was asked for and has not come; and when one was asked for last.
    origin_due: bool,
    begun_at: Option<Duration>,
    /// The programme that the last one named.
    programme: Option<[u8; DIGEST_BYTES]>,
    speed: Speed,
    /// The device's time, and that of the last question.
    device_ms: Option<u64>,
    asked_ms: Option<u64>,
}

impl Following {
    /// Begins with the next frame.
    pub fn new() -> Self {
        Self { begin: true, ..Self::default() }
    }

    /// Asks for an origin, unless one is under way already.
    pub fn begin_anew(&mut self) {
        self.begin |= !self.origin_due;
    }

    fn asks(&mut self) -> Option<Query> {
        let now = self.now;
        let asked_at = *self.asked_at.get_or_insert_with(|| {
            (self.heard_at, self.status_at, self.handed_at) = (now, now, now);
            now
        });
        let silence = if self.speed.is_fast() { SILENCE_FAST } else { SILENCE };
        let silent = now.saturating_sub(self.heard_at.max(asked_at)) > silence;
        let soon = self.begun_at.is_some_and(|at| now.saturating_sub(at) < ORIGIN);
        if self.begin && !soon || silent {
            self.begin = false;
            self.origin_due = true;
            self.begun_at = Some(now);
            self.asked(now);
            return Some(Query::Subscribe(Subscription { ticks: true, status: true }));
        }
        let due = is_due(self.asked_ms, self.device_ms);
        let no_status = now.saturating_sub(self.status_at.max(asked_at)) > STATUS;
        if due || no_status || now.saturating_sub(asked_at) > KEEP {
            self.asked(now);
            return Some(Query::Status);
        }
        None
    }

    fn asked(&mut self, now: Duration) {
        self.asked_at = Some(now);
        self.asked_ms = self.device_ms.or(self.asked_ms);
    }

    fn takes(&mut self, tell: &Notice<'_>) {
        let news = if let Notice::Tick(tick) = tell {
            News::Tick(*tick)
        } else if let Notice::Status(status) = tell {
            self.status_at = self.now;
            News::Status(*status)
        } else if let Notice::Origin(Origin { number, programme, memory }) = tell {
            // A device of ours tells none that was not asked for, but where another programme
            // begins: somebody else may have uploaded one.
            if !self.origin_due && *programme == self.programme {
                return;
            }
            self.origin_due = false;
            self.programme = *programme;
            News::Origin { number: *number, programme: *programme, memory: memory.to_vec() }
        } else {
            return;
        };
        self.heard_at = self.now;
        if let Some(at) = news.at_ms() {
            self.device_ms = Some(at);
            self.speed.take(self.now, at);
        }
        if self.news.len() < NEWS_MAX {
            self.news.push(news);
        }
    }

    fn glance(&self) -> Duration {
        if self.speed.is_fast() { GLANCE_FAST } else { GLANCE }
    }
}

impl Exchange for Following {
    type Output = Batch;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        self.now = now;
        let ask = self.asks()?;
        encode_frame(FrameKind::Query, None, &ask, frame)
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.now = now;
        if body.kind == FrameKind::Notice
            && let Ok(tell) = body.message::<Notice<'_>>()
        {
            self.takes(&tell);
        }
    }

    fn wake(&self) -> Duration {
        self.handed_at + self.glance()
    }

    fn outcome(&mut self) -> Option<Result<Batch, Failed>> {
        if self.now.saturating_sub(self.heard_at) > GONE {
            return Some(Err(Failed::Silent { noise: 0 }));
        }
        if self.news.is_empty() && self.now < self.wake() {
            return None;
        }
        self.handed_at = self.now;
        let news = std::mem::take(&mut self.news);
        Some(Ok(Batch { at: self.now, news }))
    }
}

/// Another exchange while a device is followed: nothing that it tells meanwhile is lost.
#[derive(Debug)]
pub struct Beside<'a, E> {
    /// The exchange.
    pub main: &'a mut E,
    /// What goes on beside it.
    pub following: &'a mut Following,
}

impl<E: Exchange> Exchange for Beside<'_, E> {
    type Output = E::Output;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        self.main.transmit(now, frame).or_else(|| self.following.transmit(now, frame))
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        self.following.receive(now, body);
        self.main.receive(now, body);
    }

    fn wake(&self) -> Duration {
        self.main.wake().min(self.following.wake())
    }

    fn outcome(&mut self) -> Option<Result<E::Output, Failed>> {
        self.main.outcome()
    }
}

/// The device need not talk on. Nothing answers that is waited for.
#[derive(Debug, Default)]
pub struct Farewell {
    said: bool,
}

impl Exchange for Farewell {
    type Output = ();

    fn transmit(&mut self, _: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if std::mem::replace(&mut self.said, true) {
            return None;
        }
        encode_frame(FrameKind::Query, None, &Query::Subscribe(Subscription::default()), frame)
    }

    fn receive(&mut self, _: Duration, _: &FrameBody<'_>) {}

    fn wake(&self) -> Duration {
        Duration::ZERO
    }

    fn outcome(&mut self) -> Option<Result<(), Failed>> {
        self.said.then_some(Ok(()))
    }
}

/// By the device's own clock it is time for a question.
fn is_due(asked_ms: Option<u64>, device_ms: Option<u64>) -> bool {
    match (asked_ms, device_ms) {
        (Some(asked), Some(at)) => at.saturating_sub(asked) > KEEP_MS || at < asked,
        (None, Some(_)) => true,
        (Some(_) | None, None) => false,
    }
}

/// How fast the device's clock runs.
#[derive(Debug, Default)]
struct Speed {
    since: Option<(Duration, u64)>,
    times: Option<f64>,
}

impl Speed {
    /// Until it is known, it may be.
    fn is_fast(&self) -> bool {
        self.times.is_none_or(|times| times > FAST)
    }

    fn take(&mut self, now: Duration, at: u64) {
        let (since, from) = *self.since.get_or_insert((now, at));
        let ours = now.saturating_sub(since);
        // A tick of the device is a tenth of a second: from half a second on there is a ratio.
        if ours >= Duration::from_millis(500) {
            let theirs = at.saturating_sub(from) as f64 / 1000.0;
            self.times = Some(theirs / ours.as_secs_f64());
            self.since = Some((now, at));
        }
    }
}
