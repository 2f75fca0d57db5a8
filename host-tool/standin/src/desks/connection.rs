//! One desk's connection to a stand-in: its bytes gathered to frames, and what waits for it.

use std::collections::VecDeque;
use std::time::{Duration, Instant as Clock};

use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, NONCE_BYTES, Query, Subscription, decode_frame,
};

use super::transport::Transport;
use saggar_client::link::Frames;

/// Bytes that are read at once, and frames that may wait: more stay with the sender.
const READ_BYTES: usize = 1024;
const REQUESTS_MAX: usize = 16;

/// A frame that is not gone on with for this long is given up, as a device does.
const SILENCE: Duration = Duration::from_secs(2);

/// Most bytes that wait for a desk that does not read; more are dropped, as on a real line.
const WAITING_MAX: usize = 1 << 16;

/// So many bytes may wait before a desk that reads, but more slowly than a stand-in lives, is
/// waited for.
const SLOW: usize = 1 << 15;

/// A desk is waited for as long as it takes so many bytes in such a time.
const PROGRESS: usize = 4096;
const PATIENCE: Duration = Duration::from_secs(2);

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
    gone: bool,
    frames: Frames,
    /// When bytes came last.
    came: Clock,
    requests: VecDeque<(Request, Vec<u8>)>,
    waiting: Vec<u8>,
    /// When [`PROGRESS`] was made last, and the bytes taken since.
    progress: Clock,
    taken: usize,
    /// It does not read: it is told nothing that it has not just asked for.
    stalled: bool,
    /// What it wants to be told.
    pub(super) follow: Subscription,
    /// What is known of it.
    pub(super) trust: Trust,
    /// When it was accepted, and when it last said something whole or took what it was told.
    pub(super) since: Clock,
    pub(super) alive: Clock,
    /// When it had its last turn: a count of turns.
    pub(super) turn: u64,
}

impl Connection {
    /// A connection that has just come.
    pub(super) fn new(id: u64, transport: Box<dyn Transport>, now: Clock, turn: u64) -> Self {
        Self {
            id,
            transport,
            gone: false,
            frames: Frames::default(),
            came: now,
            requests: VecDeque::new(),
            waiting: Vec::new(),
            progress: now,
            taken: 0,
            stalled: false,
            follow: Subscription::default(),
            trust: Trust::Silent,
            since: now,
            alive: now,
            turn,
        }
    }

    /// Reads what has come, unless enough waits already.
    pub(super) fn read(&mut self, now: Clock) {
        if self.gone || self.requests.len() >= REQUESTS_MAX {
            return;
        }
        let mut room = [0; READ_BYTES];
        let Some(read) = self.transport.read(&mut room) else {
            self.gone = true;
            // Nobody is there to be answered; an order is done all the same.
            self.requests.retain(|(request, _)| *request == Request::Order);
            return;
        };
        if read == 0 {
            return;
        }
        if now.duration_since(self.came) > SILENCE {
            self.frames = Frames::default();
        }
        self.came = now;
        let mut all = Vec::new();
        self.frames.push(room.get(..read).unwrap_or(&room), |frame| all.push(frame.to_vec()));
        all.into_iter().for_each(|frame| self.take_in(now, frame));
    }

    /// A frame has come, here without its zero.
    fn take_in(&mut self, now: Clock, mut frame: Vec<u8>) {
        let request = request(&mut frame.clone());
        frame.push(0);
        if let Request::Hello(_) = request {
            // Whoever greets anew has given up the greeting before.
            self.requests.retain(|(request, _)| !matches!(request, Request::Hello(_)));
        }
        self.requests.push_back((request, frame));
        if request != Request::Noise {
            self.alive = now;
            if self.trust == Trust::Silent {
                self.trust = Trust::New;
            }
        }
    }

    /// Writes what waits, as far as it is taken.
    pub(super) fn write(&mut self, now: Clock) {
        if self.waiting.is_empty() || self.gone {
            self.waiting.clear();
            self.progress = now;
            return;
        }
        let Some(written) = self.transport.write(&self.waiting) else {
            self.gone = true;
            return;
        };
        self.waiting.drain(..written.min(self.waiting.len()));
        self.taken = self.taken.saturating_add(written);
        if written > 0 {
            self.alive = now;
        }
        if self.waiting.is_empty() {
            self.stalled = false;
        }
        if self.waiting.is_empty() || self.taken >= PROGRESS {
            self.progress = now;
            self.taken = 0;
        }
        let late = now.duration_since(self.progress) > PATIENCE;
        if self.waiting.len() > WAITING_MAX || (late && self.waiting.len() > SLOW) {
            self.stalled = true;
            // The frame that it has begun to take stays whole.
            let rest = self.waiting.iter().position(|byte| *byte == 0);
            self.waiting.truncate(rest.map_or(0, |end| end + 1));
        }
    }

    /// What is next of what it has asked.
    pub(super) fn next(&self) -> Option<Request> {
        self.requests.front().map(|(request, _)| *request)
    }

    /// Takes that, with its bytes, the zero included.
    pub(super) fn take(&mut self) -> Option<(Request, Vec<u8>)> {
        self.requests.pop_front()
    }

    /// A frame for it that it has asked for.
    pub(super) fn answer(&mut self, frame: &[u8]) {
        if self.waiting.len() + FRAME_BYTES_MAX <= WAITING_MAX {
            self.waiting.extend_from_slice(frame);
        }
    }

    /// A frame for it that it has not asked for just now.
    pub(super) fn tell(&mut self, frame: &[u8]) {
        if !self.stalled {
            self.waiting.extend_from_slice(frame);
        }
    }

    /// It has gone, and nothing is left to be done of what it has asked.
    pub(super) fn is_over(&self) -> bool {
        self.gone && self.requests.is_empty()
    }

    /// It wants to be told of something, and reads.
    pub(super) fn follows(&self) -> bool {
        (self.follow.ticks || self.follow.status) && !self.stalled && !self.gone
    }

    /// It reads, but so slowly that the stand-in has to wait.
    pub(super) fn is_slow(&self) -> bool {
        !self.stalled && !self.gone && self.waiting.len() > SLOW
    }

    /// Something waits for it, and it may take it.
    pub(super) fn takes(&self) -> bool {
        !self.stalled && !self.gone && !self.waiting.is_empty()
    }
}

/// What a frame asks for. Its bytes are used up.
fn request(frame: &mut [u8]) -> Request {
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
