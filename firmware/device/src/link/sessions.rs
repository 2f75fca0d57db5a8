//! Who may give orders: sessions, their order, and what comes of wrong seals.
//!
//! Anyone may greet and anyone may send wrong seals, so neither may keep the holder of the key away.
//! A right seal is obeyed whatever came before it. A greeting does not end an offer at once, and
//! does not change the device's number: who greets again with the same number of their own, as
//! desks do right before their first order, is offered the same session again.

use saggar_core::units::Instant;

use crate::wire::seal::{DEVICE_ID_BYTES, DeviceKey, SEAL_BYTES, SessionKey};
use crate::wire::{FrameBody, NONCE_BYTES, Order, Refusal, decode_sealed};

/// A session without a new order for this long is over, and so are offers that nobody takes (ms).
pub const SESSION_TIMEOUT_MS: u64 = 60_000;

/// Wrong seals that make a lock-out.
pub const WRONG_SEALS_MAX: u8 = 5;

/// How long a lock-out lasts (ms): wrong seals are not counted meanwhile. Right ones are obeyed.
pub const LOCK_OUT_MS: u64 = 10_000;

/// Who this device is.
#[derive(Clone, Debug)]
pub struct Identity {
    /// Its name.
    pub id: [u8; DEVICE_ID_BYTES],
    /// The key that was set at the device, if one was.
    pub key: Option<DeviceKey>,
    /// What was drawn when the key was set: the same key set again makes other sessions.
    pub salt: [u8; SEAL_BYTES],
    /// How often the device has come up, if its flash still counts.
    pub boot: Option<u32>,
}

/// The sessions: one that has given orders, and those that were offered since.
#[derive(Clone, Debug)]
pub struct Sessions {
    who: Identity,
    count: u32,
    offered: Option<Offer>,
    open: Option<OpenSession>,
    wrong: u8,
    locked_at: Option<Instant>,
}

/// Greetings that are remembered at once.
pub const OFFERS_MAX: usize = 3;

/// Sessions that nobody has used yet, all with one number of the device. Orders that are held back
/// on the line grow old with it.
#[derive(Clone, Debug)]
struct Offer {
    nonce: [u8; NONCE_BYTES],
    since: Instant,
    /// The latest first.
    seals: [Option<SessionKey>; OFFERS_MAX],
}

#[derive(Clone, Debug)]
struct OpenSession {
    seal: SessionKey,
    next: u32,
    /// When an order was taken last. An old one that comes again keeps nothing open.
    heard: Instant,
    /// No order was taken yet.
    fresh: bool,
}

/// What an order comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OrderCheck<'a> {
    /// Do it. True if it is the first of its session.
    New(Order<'a>, bool),
    /// It was done already: say again what came of it.
    Repeat,
    /// Those from this sequence number on got lost.
    Gap(u32),
    /// A wrong seal, and one too many: a lock-out of so long (s).
    LockOut(u16),
    /// Not an order of a session of this device.
    Refused(Refusal),
}

impl Sessions {
    /// No sessions yet.
    pub const fn new(who: Identity) -> Self {
        Self { who, count: 0, offered: None, open: None, wrong: 0, locked_at: None }
    }

    /// Who this device is.
    pub const fn identity(&self) -> &Identity {
        &self.who
    }

    /// Offers a session to a desk that has drawn this number: the device's own. Zeros if the
    /// device cannot have sessions. A session that is open stays so until another is used.
    #[inline]
    pub fn offer(&mut self, now: Instant, desk: &[u8; NONCE_BYTES]) -> [u8; NONCE_BYTES] {
        self.offered(now, desk).unwrap_or([0; NONCE_BYTES])
    }

    #[inline]
    fn offered(&mut self, now: Instant, desk: &[u8; NONCE_BYTES]) -> Option<[u8; NONCE_BYTES]> {
        let (key, boot) = (self.who.key.as_ref()?, self.who.boot?);
        if self.offered.is_none() {
            self.count = self.count.checked_add(1)?;
            let nonce = key.nonce(&self.who.salt, boot, self.count);
            let seals = [const { None }; OFFERS_MAX];
            self.offered = Some(Offer { nonce, since: now, seals });
        }
        let Offer { nonce, seals, .. } = self.offered.as_mut()?;
        let seal = key.session_key(&self.who.id, nonce, desk);
        if !seals.iter().flatten().any(|other| other.equals(&seal)) {
            let [first, second, third] = seals;
            *third = second.take();
            *second = first.take();
            *first = Some(seal);
        }
        Some(*nonce)
    }

    /// What a sealed frame comes to.
    #[inline]
    pub fn check_order<'a>(&mut self, now: Instant, body: &FrameBody<'a>) -> OrderCheck<'a> {
        if self.who.key.is_none() {
            return OrderCheck::Refused(Refusal::NoKey);
        }
        if self.who.boot.is_none() {
            return OrderCheck::Refused(Refusal::NoBootCounter);
        }
        match self.opened(now, body) {
            Ok((sequence, order)) => self.in_turn(now, sequence, order),
            Err(OpenError::Unknown) => OrderCheck::Refused(Refusal::Unreadable),
            Err(OpenError::NoSession) => OrderCheck::Refused(Refusal::NoSession),
            Err(OpenError::WrongSeal) => self.wrong(now),
        }
    }

    /// Opens a frame with the seal of the session that is open, or of one that is offered, which
    /// is the open one from then on.
    #[inline]
    fn opened<'a>(
        &mut self,
        now: Instant,
        body: &FrameBody<'a>,
    ) -> Result<(u32, Order<'a>), OpenError> {
        let mut any = false;
        if let Some(open) = &self.open {
            any = true;
            if let Some(opened) = unsealed(body, &open.seal) {
                return opened;
            }
        }
        for place in self.offered.iter_mut().flat_map(|offered| &mut offered.seals) {
            let Some(seal) = place else { continue };
            any = true;
            let Some(opened) = unsealed(body, seal) else { continue };
            let opened = opened?;
            let seal = place.take();
            self.open = seal.map(|seal| OpenSession { seal, next: 0, heard: now, fresh: true });
            // What was held back of other sessions is worth nothing now, and no second one has the
            // number of one that was opened.
            self.offered = None;
            return Ok(opened);
        }
        Err(if any { OpenError::WrongSeal } else { OpenError::NoSession })
    }

    /// The seal for an answer, and the sequence number of the last order that was taken.
    pub fn answering(&self) -> Option<(u32, &SessionKey)> {
        self.open.as_ref().map(|open| (open.next.wrapping_sub(1), &open.seal))
    }

    /// True once if the session has been silent for too long: it is over. So is what is offered.
    pub fn expire(&mut self, now: Instant) -> bool {
        if self.offered.as_ref().is_some_and(|o| now.since(o.since) > SESSION_TIMEOUT_MS) {
            self.offered = None;
        }
        let over = self.open.as_ref().is_some_and(|o| now.since(o.heard) > SESSION_TIMEOUT_MS);
        if over {
            self.open = None;
        }
        over
    }

    #[inline]
    fn in_turn<'a>(&mut self, now: Instant, sequence: u32, order: Order<'a>) -> OrderCheck<'a> {
        let Some(open) = &mut self.open else {
            return OrderCheck::Refused(Refusal::NoSession);
        };
        if sequence < open.next {
            return OrderCheck::Repeat;
        }
        // One that waits for nothing leaves what got lost before it lost for good.
        if sequence > open.next && !order.is_urgent() {
            return OrderCheck::Gap(open.next);
        }
        match sequence.checked_add(1) {
            Some(next) => open.next = next,
            // Four thousand million orders: a new session has more.
            None => return OrderCheck::Refused(Refusal::NoSession),
        }
        open.heard = now;
        self.wrong = 0;
        OrderCheck::New(order, core::mem::take(&mut open.fresh))
    }

    #[inline]
    fn wrong<'a>(&mut self, now: Instant) -> OrderCheck<'a> {
        if let Some(seconds) = self.locked_s(now) {
            return OrderCheck::Refused(Refusal::LockedOut(seconds));
        }
        self.wrong = self.wrong.saturating_add(1);
        if self.wrong < WRONG_SEALS_MAX {
            return OrderCheck::Refused(Refusal::WrongSeal);
        }
        self.wrong = 0;
        self.locked_at = Some(now);
        OrderCheck::LockOut(seconds(LOCK_OUT_MS))
    }

    /// How long the lock-out still lasts (s).
    #[inline]
    fn locked_s(&mut self, now: Instant) -> Option<u16> {
        let since = now.since(self.locked_at?);
        match LOCK_OUT_MS.checked_sub(since) {
            Some(left) if left > 0 => Some(seconds(left).max(1)),
            Some(_) | None => {
                self.locked_at = None;
                None
            }
        }
    }
}

/// Why a frame was not opened.
enum OpenError {
    /// The seal fits and the message cannot be read, or the frame is too short for a seal.
    Unknown,
    /// No session is open or offered.
    NoSession,
    /// It is the seal of none of them.
    WrongSeal,
}

/// What is in a frame; `None` if its seal is another.
#[inline]
fn unsealed<'a>(
    body: &FrameBody<'a>,
    seal: &SessionKey,
) -> Option<Result<(u32, Order<'a>), OpenError>> {
    match decode_sealed(body, seal) {
        Ok(opened) => Some(Ok(opened)),
        Err(Some(_)) => Some(Err(OpenError::Unknown)),
        Err(None) => None,
    }
}

fn seconds(millis: u64) -> u16 {
    u16::try_from(millis / 1000).unwrap_or(u16::MAX)
}
