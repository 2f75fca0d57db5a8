//! A client's connection to a stand-in: the frames it has sent, and the bytes queued for it.

use std::collections::VecDeque;
use std::time::{Duration, Instant as Clock};

use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, Query, Subscription, decode_frame,
};

use super::transport::Transport;
use saggar_client::link::FrameAssembler;

/// Bytes read at once.
const READ_BYTES: usize = 1024;

/// Largest number of queued frames; beyond it the connection is not read.
const REQUESTS_MAX: usize = 16;

/// An incomplete frame is dropped after this silence, as in a device.
const FRAME_TIMEOUT: Duration = Duration::from_secs(2);

/// Most bytes queued for a client that does not read. Beyond that, updates are dropped.
const OUTGOING_MAX: usize = 1 << 16;

/// From this many queued bytes on the stand-in waits for the client.
const BACKLOG_SLOW: usize = 1 << 15;

/// The stand-in waits for a slow client as long as it reads this many bytes per
/// [`PROGRESS_TIMEOUT`].
const PROGRESS_BYTES: usize = 4096;

/// See [`PROGRESS_BYTES`].
const PROGRESS_TIMEOUT: Duration = Duration::from_secs(2);

/// How much a client is trusted; the least trusted is disconnected first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trust {
    /// It has sent no valid message.
    Silent,
    /// It has sent a valid message, and had no turn yet.
    New,
    /// It had a turn.
    Asked,
    /// It has given an order with the right seal.
    Ordered,
}

/// The kind of a frame from a client, as far as turns depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Request {
    /// A hello with this nonce.
    Hello([u8; NONCE_BYTES]),
    /// A subscription to ticks or statuses.
    Follow(Subscription),
    /// A sealed order.
    Order,
    /// Another query.
    Other,
    /// Not a valid frame of a client. The device counts it.
    Noise,
}

/// A connection.
pub(super) struct Connection {
    /// Its unique number.
    pub(super) id: u64,
    transport: Box<dyn Transport>,
    /// The client has closed it. Its queued orders are still carried out.
    closed: bool,
    frames: FrameAssembler,
    /// When bytes last arrived.
    last_read_at: Clock,
    requests: VecDeque<(Request, Vec<u8>)>,
    outgoing: Vec<u8>,
    /// When the client had last read [`PROGRESS_BYTES`].
    progress_at: Clock,
    /// Bytes written since `progress_at`.
    written_since: usize,
    /// It does not read, so updates for it are dropped; replies are not.
    dropping: bool,
    /// Its subscription.
    pub(super) subscription: Subscription,
    /// How far it is trusted.
    pub(super) trust: Trust,
    /// When it was accepted.
    pub(super) accepted_at: Clock,
    /// When it last sent a valid frame or read something.
    pub(super) active_at: Clock,
    /// The number of its last turn.
    pub(super) last_turn: u64,
}

impl Connection {
    /// A connection that was just accepted.
    pub(super) fn new(id: u64, transport: Box<dyn Transport>, now: Clock, turn: u64) -> Self {
        Self {
            id,
            transport,
            closed: false,
            frames: FrameAssembler::default(),
            last_read_at: now,
            requests: VecDeque::new(),
            outgoing: Vec::new(),
            progress_at: now,
            written_since: 0,
            dropping: false,
            subscription: Subscription::default(),
            trust: Trust::Silent,
            accepted_at: now,
            active_at: now,
            last_turn: turn,
        }
    }

    /// Reads the bytes that have arrived, unless the queue is full.
    pub(super) fn read(&mut self, now: Clock) {
        if self.closed || self.requests.len() >= REQUESTS_MAX {
            return;
        }
        let mut buffer = [0; READ_BYTES];
        let Some(read) = self.transport.read(&mut buffer) else {
            self.closed = true;
            // Only orders still matter.
            self.requests.retain(|(request, _)| *request == Request::Order);
            return;
        };
        if read == 0 {
            return;
        }
        if now.duration_since(self.last_read_at) > FRAME_TIMEOUT {
            self.frames = FrameAssembler::default();
        }
        self.last_read_at = now;
        let mut all = Vec::new();
        self.frames
            .push(buffer.get(..read).unwrap_or(&buffer), |frame| all.push(frame.to_vec()));
        all.into_iter().for_each(|frame| self.on_frame(now, frame));
    }

    /// Queues a frame, here without its zero.
    fn on_frame(&mut self, now: Clock, mut frame: Vec<u8>) {
        let request = classify(&mut frame.clone());
        frame.push(0);
        if let Request::Hello(_) = request {
            // A new hello replaces one that is still queued.
            self.requests.retain(|(request, _)| !matches!(request, Request::Hello(_)));
        }
        self.requests.push_back((request, frame));
        if request != Request::Noise {
            self.active_at = now;
            if self.trust == Trust::Silent {
                self.trust = Trust::New;
            }
        }
    }

    /// Writes as many queued bytes as the transport takes.
    pub(super) fn write(&mut self, now: Clock) {
        if self.outgoing.is_empty() || self.closed {
            self.outgoing.clear();
            self.progress_at = now;
            return;
        }
        let Some(written) = self.transport.write(&self.outgoing) else {
            self.closed = true;
            return;
        };
        self.outgoing.drain(..written.min(self.outgoing.len()));
        self.written_since = self.written_since.saturating_add(written);
        if written > 0 {
            self.active_at = now;
        }
        if self.outgoing.is_empty() {
            self.dropping = false;
        }
        if self.outgoing.is_empty() || self.written_since >= PROGRESS_BYTES {
            self.progress_at = now;
            self.written_since = 0;
        }
        let late = now.duration_since(self.progress_at) > PROGRESS_TIMEOUT;
        if self.outgoing.len() > OUTGOING_MAX || (late && self.outgoing.len() > BACKLOG_SLOW) {
            self.dropping = true;
            // The frame that is partly written stays complete.
            let rest = self.outgoing.iter().position(|byte| *byte == 0);
            self.outgoing.truncate(rest.map_or(0, |end| end + 1));
        }
    }

    /// The kind of its next request.
    pub(super) fn next_request(&self) -> Option<Request> {
        self.requests.front().map(|(request, _)| *request)
    }

    /// Takes the next request, with its bytes including the zero.
    pub(super) fn take_request(&mut self) -> Option<(Request, Vec<u8>)> {
        self.requests.pop_front()
    }

    /// Queues a reply.
    pub(super) fn queue_reply(&mut self, frame: &[u8]) {
        if self.outgoing.len() + FRAME_BYTES_MAX <= OUTGOING_MAX {
            self.outgoing.extend_from_slice(frame);
        }
    }

    /// Queues an update, unless they are dropped.
    pub(super) fn queue_update(&mut self, frame: &[u8]) {
        if !self.dropping {
            self.outgoing.extend_from_slice(frame);
        }
    }

    /// The client has closed it, and no request is left.
    pub(super) fn is_finished(&self) -> bool {
        self.closed && self.requests.is_empty()
    }

    /// It is subscribed to something, and reads.
    pub(super) fn is_subscribed(&self) -> bool {
        (self.subscription.ticks || self.subscription.status) && !self.dropping && !self.closed
    }

    /// It reads so slowly that the stand-in has to wait.
    pub(super) fn is_slow(&self) -> bool {
        !self.dropping && !self.closed && self.outgoing.len() > BACKLOG_SLOW
    }

    /// Bytes are queued for it, and it may read them.
    pub(super) fn has_pending_output(&self) -> bool {
        !self.dropping && !self.closed && !self.outgoing.is_empty()
    }
}

/// The kind of a frame. Decodes it in place.
fn classify(frame: &mut [u8]) -> Request {
    let Ok(body) = decode_frame(frame) else { return Request::Noise };
    match body.kind {
        FrameKind::Order => Request::Order,
        FrameKind::Query => match body.message() {
            Ok(Query::Hello { nonce }) => Request::Hello(nonce),
            Ok(Query::Subscribe(subscription)) => Request::Follow(subscription),
            // Other queries make no difference here.
            Ok(_) => Request::Other,
            Err(_) => Request::Noise,
        },
        FrameKind::Notice | FrameKind::Answer => Request::Noise,
    }
}
