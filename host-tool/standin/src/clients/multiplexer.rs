//! Several desks at one device: whose turn it is, who gets what the device says, and who has to go
//! when there are too many.
//!
//! A device knows one line. Frames are handed to it one by one, and what it says before the next
//! goes to whoever has sent that frame. What it says of its own goes to those that follow.
//!
//! Whoever has no key can only take places and turns. So nobody gets a second turn before the others
//! had theirs, an order that a greeting has made possible goes first, and who has spoken does not
//! have to go for those who have not.

use std::time::{Duration, Instant as Clock};

use saggar_device::link::BYTES_PER_TICK;
use saggar_device::wire::{
    FRAME_BYTES_MAX, FrameKind, Notice, Query, Subscription, decode_frame, encode_frame,
};

use super::connection::{Connection, Request, Trust};
use super::greetings::Greetings;
use super::transport::Transport;

/// Most connections that had no turn yet, and most of those that had one.
const NEWCOMERS_MAX: usize = 8;
const KNOWN_MAX: usize = 24;

/// A connection that says nothing may stay for so long: a desk listens for 30 ms before it speaks.
const SILENCE_GRACE: Duration = Duration::from_millis(100);

/// Frames that a device looks at between two ticks.
const FRAMES_PER_TICK: usize = BYTES_PER_TICK as usize / FRAME_BYTES_MAX;

/// A device stops telling if it is asked nothing for a minute. Where a minute passes in a moment
/// the desks cannot know in time, so it is asked for them this often (ms of the device's time).
const RESUBSCRIBE_MS: u64 = 30_000;

/// The desks.
#[derive(Default)]
pub(crate) struct Multiplexer {
    connections: Vec<Connection>,
    /// Connections that ever were, and turns that were had.
    next_id: u64,
    turns: u64,
    /// Frames that went to the device since the last tick.
    frames_this_tick: usize,
    /// Whose frame the device has, and what it is.
    pending: Option<(u64, Request)>,
    greetings: Greetings,
    /// When the device was last asked for all that follow.
    resubscribed_ms: u64,
}

impl Multiplexer {
    /// Whether one more may come.
    pub(crate) fn accepts_client(&self, now: Clock) -> bool {
        self.newcomers() < NEWCOMERS_MAX || self.oldest_silent(now).is_some()
    }

    /// One more has come.
    pub(crate) fn add(&mut self, transport: Box<dyn Transport>, now: Clock) {
        if self.newcomers() >= NEWCOMERS_MAX {
            let Some(index) = self.oldest_silent(now) else { return };
            self.connections.remove(index);
        }
        self.next_id += 1;
        // Behind all that are there.
        self.turns += 1;
        self.connections.push(Connection::new(self.next_id, transport, now, self.turns));
    }

    fn newcomers(&self) -> usize {
        let new = |one: &&Connection| matches!(one.trust, Trust::Silent | Trust::New);
        self.connections.iter().filter(new).count()
    }

    /// The newcomer that has to go for the next: the oldest that could have spoken.
    fn oldest_silent(&self, now: Clock) -> Option<usize> {
        self.connections.iter().position(|one| {
            one.trust == Trust::Silent && now.duration_since(one.accepted_at) >= SILENCE_GRACE
        })
    }

    /// One had its first turn. If too many had theirs, the one goes that neither spoke nor read for
    /// the longest time; one that has the key only if all others have it.
    fn evict_if_full(&mut self, id: u64) {
        let known = |(at, one): (usize, &Connection)| match one.trust {
            Trust::Silent | Trust::New => None,
            Trust::Asked => Some((false, one.active_at, at, one.id)),
            Trust::Ordered => Some((true, one.active_at, at, one.id)),
        };
        let known: Vec<_> = self.connections.iter().enumerate().filter_map(known).collect();
        let others = known.iter().filter(|(.., name)| *name != id);
        if known.len() > KNOWN_MAX
            && let Some((_, _, at, _)) = others.min()
        {
            self.connections.remove(*at);
        }
    }

    /// Carries bytes both ways, and forgets who has gone.
    pub(crate) fn carry(&mut self, now: Clock) {
        for one in &mut self.connections {
            one.read(now);
            one.write(now);
        }
        self.connections.retain(|one| !one.is_finished());
    }

    /// Hands over what waits.
    pub(crate) fn write(&mut self, now: Clock) {
        self.connections.iter_mut().for_each(|one| one.write(now));
    }

    /// A tick is over: the device looks at as many frames again.
    pub(crate) fn on_tick(&mut self) {
        self.frames_this_tick = 0;
    }

    /// The next frame for the device, whose time is this (ms).
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

    /// The frame of whoever is next.
    fn take_frame(&mut self, now: Clock) -> Option<Vec<u8>> {
        let waits = |one: &&mut Connection| match one.next_request() {
            Some(Request::Hello(nonce)) => self.greetings.allow(one.id, &nonce, now),
            Some(Request::Follow(_) | Request::Order | Request::Other | Request::Noise) => true,
            None => false,
        };
        // An order that a greeting has made possible, then one who has the key, then all others.
        let rank = |one: &&mut Connection| match (one.next_request(), one.trust) {
            (Some(Request::Order), _) if self.greetings.awaits_order(one.id) => {
                (0, one.last_turn)
            }
            (_, Trust::Ordered) => (1, one.last_turn),
            (_, Trust::Silent | Trust::New | Trust::Asked) => (2, one.last_turn),
        };
        let one = self.connections.iter_mut().filter(waits).min_by_key(rank)?;
        self.turns += 1;
        one.last_turn = self.turns;
        let id = one.id;
        let (request, bytes) = one.take_request()?;
        self.pending = Some((id, request));
        if let Request::Follow(follow) = request {
            one.follow = follow;
        }
        if one.trust == Trust::New && request != Request::Noise {
            one.trust = Trust::Asked;
            self.evict_if_full(id);
        }
        match request {
            Request::Hello(nonce) => self.greetings.add(id, &nonce, now),
            Request::Order => self.greetings.note_order(id),
            // The device tells of all that anybody wants.
            Request::Follow(follow) => {
                return Some(follow_frame(union(follow, self.subscribed())));
            }
            Request::Other | Request::Noise => {}
        }
        Some(bytes)
    }

    /// A question for all that follow, if it is time for one.
    fn keepalive_frame(&mut self, now_ms: u64) -> Option<Vec<u8>> {
        let follow = self.subscribed();
        let nobody = !(follow.ticks || follow.status);
        if nobody || now_ms.saturating_sub(self.resubscribed_ms) < RESUBSCRIBE_MS {
            return None;
        }
        self.resubscribed_ms = now_ms;
        self.pending = None;
        Some(follow_frame(follow))
    }

    /// What anybody follows.
    fn subscribed(&self) -> Subscription {
        let all = self.connections.iter().filter(|one| one.is_subscribed());
        all.fold(Subscription::default(), |sum, one| union(sum, one.follow))
    }

    /// What the device says to the frame that it was given last.
    pub(crate) fn reply(&mut self, said: &[u8]) {
        let Some((id, request)) = self.pending.take() else { return };
        for frame in frames(said) {
            let kind = FrameContent::of(frame);
            // A programme is another now: those that record begin anew.
            if kind == FrameContent::Origin && !matches!(request, Request::Follow(_)) {
                self.broadcast(frame);
                continue;
            }
            let Some(one) = self.connections.iter_mut().find(|one| one.id == id) else {
                continue;
            };
            if kind == FrameContent::Answer {
                one.trust = Trust::Ordered;
                self.greetings.note_accepted(id);
            }
            // The ticks that an origin begins may be another's wish.
            if kind != FrameContent::Origin || one.follow.ticks {
                one.queue_reply(frame);
            }
        }
    }

    /// What the device says of its own.
    pub(crate) fn broadcast(&mut self, said: &[u8]) {
        if self.connections.iter().all(|one| !one.is_subscribed()) {
            return;
        }
        for frame in frames(said) {
            let kind = FrameContent::of(frame);
            let wants = |one: &&mut Connection| match kind {
                FrameContent::Origin | FrameContent::Tick => one.follow.ticks,
                FrameContent::Status => one.follow.status,
                FrameContent::Answer | FrameContent::Other => false,
            };
            self.connections.iter_mut().filter(wants).for_each(|one| one.queue_update(frame));
        }
    }

    /// Somebody reads too slowly for the next tick.
    pub(crate) fn is_slow(&self) -> bool {
        self.connections.iter().any(Connection::is_slow)
    }

    /// Something waits for somebody who may take it.
    pub(crate) fn has_pending_output(&self) -> bool {
        self.connections.iter().any(Connection::has_pending_output)
    }
}

/// What a frame of the device is, as far as it matters who gets it.
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
        let mut room = [0; FRAME_BYTES_MAX];
        let bytes = frame.strip_suffix(&[0]).unwrap_or(frame);
        let Some(room) = room.get_mut(..bytes.len()) else { return Self::Other };
        room.copy_from_slice(bytes);
        let Ok(body) = decode_frame(room) else { return Self::Other };
        match (body.kind, body.message()) {
            (FrameKind::Answer, _) => Self::Answer,
            (FrameKind::Notice, Ok(Notice::Origin(_))) => Self::Origin,
            (FrameKind::Notice, Ok(Notice::Tick(_))) => Self::Tick,
            (FrameKind::Notice, Ok(Notice::Status(_))) => Self::Status,
            (FrameKind::Notice | FrameKind::Query | FrameKind::Order, _) => Self::Other,
        }
    }
}

/// The frames of what a device says, each with its zero.
fn frames(said: &[u8]) -> impl Iterator<Item = &[u8]> {
    said.split_inclusive(|byte| *byte == 0)
}

/// What either of two wants.
const fn union(one: Subscription, other: Subscription) -> Subscription {
    Subscription { ticks: one.ticks || other.ticks, status: one.status || other.status }
}

/// The frame of a wish to be told.
fn follow_frame(follow: Subscription) -> Vec<u8> {
    let mut frame = [0; FRAME_BYTES_MAX];
    let bytes = encode_frame(FrameKind::Query, None, &Query::Subscribe(follow), &mut frame)
        .unwrap_or(0);
    frame.iter().take(bytes).copied().collect()
}
