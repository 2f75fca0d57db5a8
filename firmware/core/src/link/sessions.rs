//! Who may give orders: sessions, their order, and what comes of wrong seals.

use crate::units::Instant;
use crate::wire::seal::{DEVICE_ID_BYTES, Key, SEAL_BYTES, Seal};
use crate::wire::{Body, NONCE_BYTES, Order, Refusal, open_sealed};

/// A session without a new order for this long is over, and so is an offer that nobody takes (ms).
pub const SESSION_MS: u64 = 60_000;

/// Wrong seals after which the link takes no orders for a while.
pub const WRONG_MAX: u8 = 5;

/// How long that is (ms). A stop is obeyed all the same, if its seal is right.
pub const LOCK_MS: u64 = 10_000;

/// Who this device is.
#[derive(Clone, Debug)]
pub struct Identity {
    /// Its name.
    pub id: [u8; DEVICE_ID_BYTES],
    /// The key that was set at the device, if one was.
    pub key: Option<Key>,
    /// What was drawn when the key was set: the same key set again makes other sessions.
    pub salt: [u8; SEAL_BYTES],
    /// How often the device has come up, if its flash still counts.
    pub boot: Option<u32>,
}

/// The sessions: one that has given orders, and one that was offered since.
#[derive(Clone, Debug)]
pub struct Sessions {
    who: Identity,
    count: u32,
    offered: Option<Offer>,
    open: Option<Open>,
    wrong: u8,
    locked_at: Option<Instant>,
}

/// A session that nobody has used. Orders that are held back on the line grow old with it.
#[derive(Clone, Debug)]
struct Offer {
    seal: Seal,
    at: Instant,
}

#[derive(Clone, Debug)]
struct Open {
    seal: Seal,
    next: u32,
    /// When an order was taken last. An old one that comes again keeps nothing open.
    heard: Instant,
    /// No order was taken yet.
    fresh: bool,
}

/// What an order comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heard<'a> {
    /// Do it. True if it is the first of its session.
    New(Order<'a>, bool),
    /// It was done already: say again what came of it.
    Again,
    /// Those from this sequence number on got lost.
    Gap(u32),
    /// A wrong seal, and one too many: from now on the link takes no orders for so long (s).
    Locks(u16),
    /// Not an order of a session of this device.
    Refused(Refusal),
}

impl Sessions {
    /// No sessions yet.
    pub const fn new(who: Identity) -> Self {
        Self { who, count: 0, offered: None, open: None, wrong: 0, locked_at: None }
    }

    /// Who this device is.
    pub const fn who(&self) -> &Identity {
        &self.who
    }

    /// Offers a session to a desk that has drawn this number: the device's own. Zeros if the
    /// device cannot have sessions. A session that is open stays so until the new one is used,
    /// so that a stranger's greeting disturbs nobody.
    #[inline]
    pub fn offer(&mut self, now: Instant, desk: &[u8; NONCE_BYTES]) -> [u8; NONCE_BYTES] {
        let (Some(key), Some(boot), Some(count)) =
            (&self.who.key, self.who.boot, self.count.checked_add(1))
        else {
            return [0; NONCE_BYTES];
        };
        self.count = count;
        let nonce = key.nonce(&self.who.salt, boot, count);
        let seal = key.session(&self.who.id, &nonce, desk);
        self.offered = Some(Offer { seal, at: now });
        nonce
    }

    /// What a sealed frame comes to.
    #[inline]
    pub fn hear<'a>(&mut self, now: Instant, body: &Body<'a>) -> Heard<'a> {
        if self.who.key.is_none() {
            return Heard::Refused(Refusal::NoKey);
        }
        if self.who.boot.is_none() {
            return Heard::Refused(Refusal::NoCount);
        }
        let locked_s = self.locked_s(now);
        let known = self.open.as_ref().map(|open| open_sealed(body, &open.seal));
        let (takes, opened) = match known {
            Some(opened) if !matches!(opened, Err(None)) => (false, opened),
            Some(_) | None => match &self.offered {
                Some(offer) => (true, open_sealed(body, &offer.seal)),
                None if known.is_some() => (false, Err(None)),
                None => return Heard::Refused(Refusal::NoSession),
            },
        };
        let (sequence, order) = match opened {
            Ok(opened) => opened,
            Err(None) => return self.wrong(now, locked_s),
            Err(Some(_)) => return Heard::Refused(Refusal::Unknown),
        };
        if let Some(seconds) = locked_s.filter(|_| !matches!(order, Order::Stop)) {
            return Heard::Refused(Refusal::Locked(seconds));
        }
        if takes {
            let offer = self.offered.take();
            self.open =
                offer.map(|Offer { seal, .. }| Open { seal, next: 0, heard: now, fresh: true });
        }
        self.in_turn(now, sequence, order)
    }

    /// The seal for an answer, and the sequence number of the last order that was taken.
    pub fn answering(&self) -> Option<(u32, &Seal)> {
        self.open.as_ref().map(|open| (open.next.wrapping_sub(1), &open.seal))
    }

    /// True once if the session has been silent for too long: it is over. So is an offer.
    pub fn expire(&mut self, now: Instant) -> bool {
        if self.offered.as_ref().is_some_and(|o| now.since(o.at) > SESSION_MS) {
            self.offered = None;
        }
        let over = self.open.as_ref().is_some_and(|o| now.since(o.heard) > SESSION_MS);
        if over {
            self.open = None;
        }
        over
    }

    #[inline]
    fn in_turn<'a>(&mut self, now: Instant, sequence: u32, order: Order<'a>) -> Heard<'a> {
        let Some(open) = &mut self.open else {
            return Heard::Refused(Refusal::NoSession);
        };
        if sequence < open.next {
            return Heard::Again;
        }
        // A stop does not wait for what got lost before it; that is lost for good then.
        if sequence > open.next && !matches!(order, Order::Stop) {
            return Heard::Gap(open.next);
        }
        match sequence.checked_add(1) {
            Some(next) => open.next = next,
            // Four thousand million orders: a new session has more.
            None => return Heard::Refused(Refusal::NoSession),
        }
        open.heard = now;
        self.wrong = 0;
        Heard::New(order, core::mem::take(&mut open.fresh))
    }

    #[inline]
    fn wrong<'a>(&mut self, now: Instant, locked_s: Option<u16>) -> Heard<'a> {
        if let Some(seconds) = locked_s {
            return Heard::Refused(Refusal::Locked(seconds));
        }
        self.wrong = self.wrong.saturating_add(1);
        if self.wrong < WRONG_MAX {
            return Heard::Refused(Refusal::WrongSeal);
        }
        self.wrong = 0;
        self.locked_at = Some(now);
        Heard::Locks(seconds(LOCK_MS))
    }

    /// How long the link still takes no orders (s).
    #[inline]
    fn locked_s(&mut self, now: Instant) -> Option<u16> {
        let since = now.since(self.locked_at?);
        match LOCK_MS.checked_sub(since) {
            Some(left) if left > 0 => Some(seconds(left).max(1)),
            Some(_) | None => {
                self.locked_at = None;
                None
            }
        }
    }
}

fn seconds(millis: u64) -> u16 {
    u16::try_from(millis / 1000).unwrap_or(u16::MAX)
}
