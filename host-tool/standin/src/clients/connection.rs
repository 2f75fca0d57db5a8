//! One desk's connection to a stand-in: its bytes gathered to frames, and what waits for it.

use std::collections::VecDeque;
use std::time::{Duration, Instant as Clock};

use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, Query, Subscription, decode_frame,
};

use super::transport::Transport;
use saggar_client::link::FrameAssembler;

/// Bytes that are read at once, and frames that may wait: more stay with the sender.
const READ_BYTES: usize = 1024;
const REQUESTS_MAX: usize = 16;

/// A frame that is not gone on with for this long is given up, as a device does.
const FRAME_TIMEOUT: Duration = Duration::from_secs(2);

/// Most bytes that wait for a desk that does not read; more are dropped, as on a real line.
const OUTGOING_MAX: usize = 1 << 16;

/// So many bytes may wait before a desk that reads, but more slowly than a stand-in lives, is
/// waited for.
const BACKLOG_SLOW: usize = 1 << 15;

/// A desk is waited for as long as it takes so many bytes in such a time.
const PROGRESS_BYTES: usize = 4096;
const PROGRESS_TIMEOUT: Duration = Duration::from_secs(2);

/// What is known of whoever is at the other end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trust {
    /// It said nothing that is a message.
    Silent,
    /// It said something, and had no turn yet.
    New,
    /// It had a turn.
    Asked,
    /// It gave an order with the right seal.
    Ordered,
}

/// What a frame is, as far as it matters whose turn it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Request {
    /// A greeting with this number.
    Hello([u8; NONCE_BYTES]),
    /// A wish to be told of ticks or of how the furnace stands.
    Follow(Subscription),
    /// A sealed order.
    Order,
    /// Another question.
    Other,
    /// Nothing that a desk says. The device counts it.
    Noise,
}

/// A connection.
pub(super) struct Connection {
    /// Its number: no other ever has it.
    pub(super) id: u64,
    transport: Box<dyn Transport>,
    /// The other end has gone; what it has said is done all the same.
    closed: bool,
    frames: FrameAssembler,
    /// When bytes came last.
    last_read_at: Clock,
    requests: VecDeque<(Request, Vec<u8>)>,
    outgoing: Vec<u8>,
    /// When [`PROGRESS`] was made last, and the bytes taken since.
    progress_at: Clock,
    written_since: usize,
    /// It does not read: it is told nothing that it has not just asked for.
    dropping: bool,
    /// What it wants to be told.
    pub(super) follow: Subscription,
    /// What is known of it.
    pub(super) trust: Trust,
    /// When it was accepted, and when it last said something whole or took what it was told.
    pub(super) accepted_at: Clock,
    pub(super) active_at: Clock,
    /// When it had its last turn: a count of turns.
    pub(super) last_turn: u64,
}

impl Connection {
    /// A connection that has just come.
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
            follow: Subscription::default(),
            trust: Trust::Silent,
            accepted_at: now,
            active_at: now,
            last_turn: turn,
        }
    }

    /// Reads what has come, unless enough waits already.
    pub(super) fn read(&mut self, now: Clock) {
        if self.closed || self.requests.len() >= REQUESTS_MAX {
            return;
        }
        let mut room = [0; READ_BYTES];
        let Some(read) = self.transport.read(&mut room) else {
            self.closed = true;
            // Nobody is there to be answered; an order is done all the same.
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
        self.frames.push(room.get(..read).unwrap_or(&room), |frame| all.push(frame.to_vec()));
        all.into_iter().for_each(|frame| self.on_frame(now, frame));
    }

    /// A frame has come, here without its zero.
    fn on_frame(&mut self, now: Clock, mut frame: Vec<u8>) {
        let request = classify(&mut frame.clone());
        frame.push(0);
        if let Request::Hello(_) = request {
            // Whoever greets anew has given up the greeting before.
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

    /// Writes what waits, as far as it is taken.
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
            // The frame that it has begun to take stays whole.
            let rest = self.outgoing.iter().position(|byte| *byte == 0);
            self.outgoing.truncate(rest.map_or(0, |end| end + 1));
        }
    }

    /// What is next of what it has asked.
    pub(super) fn next_request(&self) -> Option<Request> {
        self.requests.front().map(|(request, _)| *request)
    }

    /// Takes that, with its bytes, the zero included.
    pub(super) fn take_request(&mut self) -> Option<(Request, Vec<u8>)> {
        self.requests.pop_front()
    }

    /// A frame for it that it has asked for.
    pub(super) fn queue_reply(&mut self, frame: &[u8]) {
        if self.outgoing.len() + FRAME_BYTES_MAX <= OUTGOING_MAX {
            self.outgoing.extend_from_slice(frame);
        }
    }

    /// A frame for it that it has not asked for just now.
    pub(super) fn queue_update(&mut self, frame: &[u8]) {
        if !self.dropping {
            self.outgoing.extend_from_slice(frame);
        }
    }

    /// It has gone, and nothing is left to be done of what it has asked.
    pub(super) fn is_finished(&self) -> bool {
        self.closed && self.requests.is_empty()
    }

    /// It wants to be told of something, and reads.
    pub(super) fn is_subscribed(&self) -> bool {
        (self.follow.ticks || self.follow.status) && !self.dropping && !self.closed
    }

    /// It reads, but so slowly that the stand-in has to wait.
    pub(super) fn is_slow(&self) -> bool {
        !self.dropping && !self.closed && self.outgoing.len() > BACKLOG_SLOW
    }

    /// Something waits for it, and it may take it.
    pub(super) fn has_pending_output(&self) -> bool {
        !self.dropping && !self.closed && !self.outgoing.is_empty()
    }
}

/// What a frame asks for. Its bytes are used up.
fn classify(frame: &mut [u8]) -> Request {
    let Ok(body) = decode_frame(frame) else { return Request::Noise };
    match body.kind {
        FrameKind::Order => Request::Order,
        FrameKind::Query => match body.message() {
            Ok(Query::Hello { nonce }) => Request::Hello(nonce),
            Ok(Query::Subscribe(follow)) => Request::Follow(follow),
            // What is asked for besides concerns nobody here.
            Ok(_) => Request::Other,
            Err(_) => Request::Noise,
        },
        FrameKind::Notice | FrameKind::Answer => Request::Noise,
    }
}
