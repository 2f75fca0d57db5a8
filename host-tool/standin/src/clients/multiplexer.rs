//! Several clients at one device: whose turn it is, who gets the device's frames, and who is
//! disconnected when there are too many.
//!
//! A device has one link. It gets one frame at a time, and what it sends before the next one goes to
//! the client of that frame. Its updates go to all subscribers.
//!
//! A client without the key can still occupy places and turns. So each client gets a second turn only
//! after the others had theirs, an order that follows a hello goes first, and a client that has sent a
//! valid frame is not disconnected in favour of one that has not.

use std::time::{Duration, Instant as Clock};

use saggar_device::link::BYTES_PER_TICK;
use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, Notice, Query, Subscription, decode_frame, encode_frame,
};

use super::connection::{Connection, Request, Trust};
use super::greetings::Greetings;
use super::transport::Transport;

/// Largest number of connections that have had no turn yet.
const NEWCOMERS_MAX: usize = 8;

/// Largest number of connections that have had a turn.
const KNOWN_MAX: usize = 24;

/// Time that a silent connection may stay: our own client listens for 30 ms before it sends.
const SILENCE_GRACE: Duration = Duration::from_millis(100);

/// Frames that a device handles between two ticks.
const FRAMES_PER_TICK: usize = BYTES_PER_TICK as usize / FRAME_BYTES_MAX;

/// Time between two queries on behalf of the subscribers (ms of the device). A device ends a
/// subscription after a minute without a query, which at full speed is too short for the clients.
const RESUBSCRIBE_MS: u64 = 30_000;

/// The clients of a stand-in.
#[derive(Default)]
pub(crate) struct Multiplexer {
    connections: Vec<Connection>,
    /// Number of connections so far.
    next_id: u64,
    /// Number of turns so far.
    turns: u64,
    /// Frames sent to the device since the last tick.
    frames_this_tick: usize,
    /// The client whose frame the device has, and its kind.
    pending: Option<(u64, Request)>,
    greetings: Greetings,
    /// When the device was last queried on behalf of the subscribers.
    resubscribed_ms: u64,
}

impl Multiplexer {
    /// Whether there is a place for one more client.
    pub(crate) fn accepts_client(&self, now: Clock) -> bool {
        self.newcomers() < NEWCOMERS_MAX || self.oldest_silent(now).is_some()
    }

    /// Adds a client.
    pub(crate) fn add(&mut self, transport: Box<dyn Transport>, now: Clock) {
        if self.newcomers() >= NEWCOMERS_MAX {
            let Some(index) = self.oldest_silent(now) else { return };
            self.connections.remove(index);
        }
        self.next_id += 1;
        // Its turn comes after all others.
        self.turns += 1;
        self.connections.push(Connection::new(self.next_id, transport, now, self.turns));
    }

    fn newcomers(&self) -> usize {
        let new =
            |connection: &&Connection| matches!(connection.trust, Trust::Silent | Trust::New);
        self.connections.iter().filter(new).count()
    }

    /// The newcomer that makes way for the next: the oldest silent one.
    fn oldest_silent(&self, now: Clock) -> Option<usize> {
        self.connections.iter().position(|connection| {
            connection.trust == Trust::Silent
                && now.duration_since(connection.accepted_at) >= SILENCE_GRACE
        })
    }

    /// Makes space after a client's first turn: if too many have had one, disconnects the client that
    /// was idle longest, one with the key only if all have it.
    fn evict_if_full(&mut self, id: u64) {
        let known = |(at, connection): (usize, &Connection)| match connection.trust {
            Trust::Silent | Trust::New => None,
            Trust::Asked => Some((false, connection.active_at, at, connection.id)),
            Trust::Ordered => Some((true, connection.active_at, at, connection.id)),
        };
        let known: Vec<_> = self.connections.iter().enumerate().filter_map(known).collect();
        let others = known.iter().filter(|(.., other)| *other != id);
        if known.len() > KNOWN_MAX
            && let Some((_, _, at, _)) = others.min()
        {
            self.connections.remove(*at);
        }
    }

    /// Reads and writes all connections, and drops those that are finished.
    pub(crate) fn transfer(&mut self, now: Clock) {
        for connection in &mut self.connections {
            connection.read(now);
            connection.write(now);
        }
        self.connections.retain(|connection| !connection.is_finished());
    }

    /// Writes the queued bytes.
    pub(crate) fn write(&mut self, now: Clock) {
        self.connections.iter_mut().for_each(|connection| connection.write(now));
    }

    /// After a tick the device may get as many frames again.
    pub(crate) fn on_tick(&mut self) {
        self.frames_this_tick = 0;
    }

    /// The next frame for the device, at this time of the device (ms).
    pub(crate) fn next_frame(&mut self, now: Clock, now_ms: u64) -> Option<Vec<u8>> {
        if self.frames_this_tick >= FRAMES_PER_TICK {
            return None;
        }
        let frame = match self.keepalive_frame(now_ms) {
            Some(frame) => frame,
            None => self.take_frame(now)?,
        };
        self.frames_this_tick += 1;
        Some(frame)
    }

    /// The frame of the client whose turn it is.
    fn take_frame(&mut self, now: Clock) -> Option<Vec<u8>> {
        let waits = |connection: &&mut Connection| match connection.next_request() {
            Some(Request::Hello(nonce)) => self.greetings.allow(connection.id, &nonce, now),
            Some(Request::Follow(_) | Request::Order | Request::Other | Request::Noise) => true,
            None => false,
        };
        // An order that follows a hello goes first, then clients with the key, then all others.
        let rank = |connection: &&mut Connection| match (
            connection.next_request(),
            connection.trust,
        ) {
            (Some(Request::Order), _) if self.greetings.awaits_order(connection.id) => {
                (0, connection.last_turn)
            }
            (_, Trust::Ordered) => (1, connection.last_turn),
            (_, Trust::Silent | Trust::New | Trust::Asked) => (2, connection.last_turn),
        };
        let connection = self.connections.iter_mut().filter(waits).min_by_key(rank)?;
        self.turns += 1;
        connection.last_turn = self.turns;
        let id = connection.id;
        let (request, bytes) = connection.take_request()?;
        self.pending = Some((id, request));
        if let Request::Follow(subscription) = request {
            connection.subscription = subscription;
        }
        if connection.trust == Trust::New && request != Request::Noise {
            connection.trust = Trust::Asked;
            self.evict_if_full(id);
        }
        match request {
            Request::Hello(nonce) => self.greetings.add(id, &nonce, now),
            Request::Order => self.greetings.note_order(id),
            // The device's subscription is the union of all.
            Request::Follow(subscription) => {
                return Some(subscription_frame(union(subscription, self.subscribed())));
            }
            Request::Other | Request::Noise => {}
        }
        Some(bytes)
    }

    /// A query on behalf of the subscribers, if one is due.
    fn keepalive_frame(&mut self, now_ms: u64) -> Option<Vec<u8>> {
        let subscription = self.subscribed();
        let is_unused = !(subscription.ticks || subscription.status);
        if is_unused || now_ms.saturating_sub(self.resubscribed_ms) < RESUBSCRIBE_MS {
            return None;
        }
        self.resubscribed_ms = now_ms;
        self.pending = None;
        Some(subscription_frame(subscription))
    }

    /// The union of the clients' subscriptions.
    fn subscribed(&self) -> Subscription {
        let all = self.connections.iter().filter(|connection| connection.is_subscribed());
        all.fold(Subscription::default(), |sum, connection| union(sum, connection.subscription))
    }

    /// Delivers the device's reply to its last frame.
    pub(crate) fn reply(&mut self, bytes: &[u8]) {
        let Some((id, request)) = self.pending.take() else { return };
        for frame in frames(bytes) {
            let kind = FrameContent::of(frame);
            // The programme has changed: all recordings start over with this origin.
            if kind == FrameContent::Origin && !matches!(request, Request::Follow(_)) {
                self.broadcast(frame);
                continue;
            }
            let Some(connection) =
                self.connections.iter_mut().find(|connection| connection.id == id)
            else {
                continue;
            };
            if kind == FrameContent::Answer {
                connection.trust = Trust::Ordered;
                self.greetings.note_accepted(id);
            }
            // It may be another client that subscribed to ticks.
            if kind != FrameContent::Origin || connection.subscription.ticks {
                connection.queue_reply(frame);
            }
        }
    }

    /// Delivers the device's updates.
    pub(crate) fn broadcast(&mut self, bytes: &[u8]) {
        if self.connections.iter().all(|connection| !connection.is_subscribed()) {
            return;
        }
        for frame in frames(bytes) {
            let kind = FrameContent::of(frame);
            let wants = |connection: &&mut Connection| match kind {
                FrameContent::Origin | FrameContent::Tick => connection.subscription.ticks,
                FrameContent::Status => connection.subscription.status,
                FrameContent::Answer | FrameContent::Other => false,
            };
            self.connections
                .iter_mut()
                .filter(wants)
                .for_each(|connection| connection.queue_update(frame));
        }
    }

    /// Whether a client reads so slowly that the next tick has to wait.
    pub(crate) fn is_slow(&self) -> bool {
        self.connections.iter().any(Connection::is_slow)
    }

    /// Whether bytes are queued for a client that may read them.
    pub(crate) fn has_pending_output(&self) -> bool {
        self.connections.iter().any(Connection::has_pending_output)
    }
}

/// The kind of a frame of the device, as far as its recipients depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum FrameContent {
    Answer,
    Origin,
    Tick,
    Status,
    Other,
}

impl FrameContent {
    fn of(frame: &[u8]) -> Self {
        let mut buffer = [0; FRAME_BYTES_MAX];
        let bytes = frame.strip_suffix(&[0]).unwrap_or(frame);
        let Some(buffer) = buffer.get_mut(..bytes.len()) else { return Self::Other };
        buffer.copy_from_slice(bytes);
        let Ok(body) = decode_frame(buffer) else { return Self::Other };
        match (body.kind, body.message()) {
            (FrameKind::Answer, _) => Self::Answer,
            (FrameKind::Notice, Ok(Notice::Origin(_))) => Self::Origin,
            (FrameKind::Notice, Ok(Notice::Tick(_))) => Self::Tick,
            (FrameKind::Notice, Ok(Notice::Status(_))) => Self::Status,
            (FrameKind::Notice | FrameKind::Query | FrameKind::Order, _) => Self::Other,
        }
    }
}

/// The frames in the bytes of a device, each with its zero.
fn frames(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    bytes.split_inclusive(|byte| *byte == 0)
}

/// The union of two subscriptions.
const fn union(a: Subscription, b: Subscription) -> Subscription {
    Subscription { ticks: a.ticks || b.ticks, status: a.status || b.status }
}

/// The frame that requests a subscription.
fn subscription_frame(subscription: Subscription) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes =
        encode_frame(FrameKind::Query, None, &Query::Subscribe(subscription), &mut frame)
            .unwrap_or(0);
    frame.iter().take(bytes).copied().collect()
}
