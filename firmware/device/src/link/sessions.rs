//! Sessions: who may give orders, in which sequence, and what happens on wrong seals.
//!
//! Anyone may greet and anyone may send wrong seals, so neither may lock out the holder of the key.
//! A right seal is always obeyed. A new greeting neither withdraws the earlier offers nor changes
//! the device's nonce, so a client that greets again with its own nonce, right before its first
//! order, is offered the same session again.

use saggar_core::units::Instant;

use crate::wire::seal::{DEVICE_ID_BYTES, DeviceKey, SEAL_BYTES, SessionKey};
use crate::wire::{FrameBody, NONCE_BYTES, Order, Refusal, decode_sealed};

/// A session ends after this time without a new order, and an offer after this time unused (ms).
pub const SESSION_TIMEOUT_MS: u64 = 60_000;

/// Wrong seals that start a lock-out.
pub const WRONG_SEALS_MAX: u8 = 5;

/// Duration of a lock-out (ms). Wrong seals are not counted during it; right ones are obeyed.
pub const LOCK_OUT_MS: u64 = 10_000;

/// Identity of this device.
#[derive(Clone, Debug)]
pub struct Identity {
    /// Device id.
    pub id: [u8; DEVICE_ID_BYTES],
    /// The key that was set at the device, if any.
    pub key: Option<DeviceKey>,
    /// Drawn at random when the key was set, so that setting the same key again gives new nonces.
    pub salt: [u8; SEAL_BYTES],
    /// Boot number; `None` if the flash can no longer count boots.
    pub boot: Option<u32>,
}

/// The open session, and those that were offered since it was opened.
#[derive(Clone, Debug)]
pub struct Sessions {
    identity: Identity,
    /// Offers made since boot.
    offer_count: u32,
    offer: Option<Offer>,
    open: Option<OpenSession>,
    wrong_seals: u8,
    locked_at: Option<Instant>,
}

/// Greetings remembered at the same time.
pub const OFFERS_MAX: usize = 3;

/// Sessions that no order has used yet, all with the same nonce of the device. Orders delayed on the
/// link expire with it.
#[derive(Clone, Debug)]
struct Offer {
    nonce: [u8; NONCE_BYTES],
    since: Instant,
    /// One for each greeting, the latest first.
    keys: [Option<SessionKey>; OFFERS_MAX],
}

#[derive(Clone, Debug)]
struct OpenSession {
    key: SessionKey,
    /// Sequence number of the next order.
    next: u32,
    /// Time of the last new order. A repeated one does not keep the session open.
    last_order_at: Instant,
    /// No order was taken yet.
    unused: bool,
}

/// Result of checking a sealed frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OrderCheck<'a> {
    /// The next order; true if it is the first of its session.
    New(Order<'a>, bool),
    /// An order that was taken before: repeat the last answer.
    Repeat,
    /// Orders from this sequence number on were lost.
    Gap(u32),
    /// The wrong seal that starts a lock-out; its duration (s).
    LockOut(u16),
    /// Not an order of any session of this device.
    Refused(Refusal),
}

impl Sessions {
    /// No sessions yet.
    pub const fn new(identity: Identity) -> Self {
        Self {
            identity,
            offer_count: 0,
            offer: None,
            open: None,
            wrong_seals: 0,
            locked_at: None,
        }
    }

    /// Identity of this device.
    pub const fn identity(&self) -> &Identity {
        &self.identity
    }

    /// Offers a session to a client with this nonce, and returns the device's nonce: zeros if the
    /// device can have no sessions. An open session stays open until the new one is used.
    #[inline]
    pub fn offer(
        &mut self,
        now: Instant,
        client_nonce: &[u8; NONCE_BYTES],
    ) -> [u8; NONCE_BYTES] {
        self.try_offer(now, client_nonce).unwrap_or([0; NONCE_BYTES])
    }

    #[inline]
    fn try_offer(
        &mut self,
        now: Instant,
        client_nonce: &[u8; NONCE_BYTES],
    ) -> Option<[u8; NONCE_BYTES]> {
        let (key, boot) = (self.identity.key.as_ref()?, self.identity.boot?);
        if self.offer.is_none() {
            self.offer_count = self.offer_count.checked_add(1)?;
            let nonce = key.nonce(&self.identity.salt, boot, self.offer_count);
            let keys = [const { None }; OFFERS_MAX];
            self.offer = Some(Offer { nonce, since: now, keys });
        }
        let Offer { nonce, keys, .. } = self.offer.as_mut()?;
        let session_key = key.session_key(&self.identity.id, nonce, client_nonce);
        if !keys.iter().flatten().any(|other| other.equals(&session_key)) {
            let [first, second, third] = keys;
            *third = second.take();
            *second = first.take();
            *first = Some(session_key);
        }
        Some(*nonce)
    }

    /// Checks a sealed frame: its seal, its session, its sequence number.
    #[inline]
    pub fn check_order<'a>(&mut self, now: Instant, body: &FrameBody<'a>) -> OrderCheck<'a> {
        if self.identity.key.is_none() {
            return OrderCheck::Refused(Refusal::NoKey);
        }
        if self.identity.boot.is_none() {
            return OrderCheck::Refused(Refusal::NoBootCounter);
        }
        match self.unseal(now, body) {
            Ok((sequence, order)) => self.check_sequence(now, sequence, order),
            Err(OpenError::Unreadable) => OrderCheck::Refused(Refusal::Unreadable),
            Err(OpenError::NoSession) => OrderCheck::Refused(Refusal::NoSession),
            Err(OpenError::WrongSeal) => self.count_wrong_seal(now),
        }
    }

    /// Opens a frame with the key of the open session, or of an offered one, which then becomes the
    /// open one.
    #[inline]
    fn unseal<'a>(
        &mut self,
        now: Instant,
        body: &FrameBody<'a>,
    ) -> Result<(u32, Order<'a>), OpenError> {
        let mut any = false;
        if let Some(open) = &self.open {
            any = true;
            if let Some(result) = try_key(body, &open.key) {
                return result;
            }
        }
        for slot in self.offer.iter_mut().flat_map(|offer| &mut offer.keys) {
            let Some(key) = slot else { continue };
            any = true;
            let Some(result) = try_key(body, key) else { continue };
            let order = result?;
            self.open = slot.take().map(|key| OpenSession {
                key,
                next: 0,
                last_order_at: now,
                unused: true,
            });
            // Orders delayed in other offered sessions become worthless, and no second session
            // ever has the nonce of one that was opened.
            self.offer = None;
            return Ok(order);
        }
        Err(if any { OpenError::WrongSeal } else { OpenError::NoSession })
    }

    /// What an answer is sealed with: the sequence number of the last order that was taken, and the
    /// session's key.
    pub fn answering(&self) -> Option<(u32, &SessionKey)> {
        self.open.as_ref().map(|open| (open.next.wrapping_sub(1), &open.key))
    }

    /// Drops an offer and a session that have timed out. True once if it was the session.
    pub fn expire(&mut self, now: Instant) -> bool {
        let is_old = |since| now.since(since) > SESSION_TIMEOUT_MS;
        if self.offer.as_ref().is_some_and(|offer| is_old(offer.since)) {
            self.offer = None;
        }
        let expired = self.open.as_ref().is_some_and(|open| is_old(open.last_order_at));
        if expired {
            self.open = None;
        }
        expired
    }

    #[inline]
    fn check_sequence<'a>(
        &mut self,
        now: Instant,
        sequence: u32,
        order: Order<'a>,
    ) -> OrderCheck<'a> {
        let Some(open) = &mut self.open else {
            return OrderCheck::Refused(Refusal::NoSession);
        };
        if sequence < open.next {
            return OrderCheck::Repeat;
        }
        // An urgent order is taken out of turn; what was lost before it stays lost.
        if sequence > open.next && !order.is_urgent() {
            return OrderCheck::Gap(open.next);
        }
        match sequence.checked_add(1) {
            Some(next) => open.next = next,
            // After 2^32 orders the client needs a new session.
            None => return OrderCheck::Refused(Refusal::NoSession),
        }
        open.last_order_at = now;
        self.wrong_seals = 0;
        OrderCheck::New(order, core::mem::take(&mut open.unused))
    }

    #[inline]
    fn count_wrong_seal<'a>(&mut self, now: Instant) -> OrderCheck<'a> {
        if let Some(seconds) = self.locked_s(now) {
            return OrderCheck::Refused(Refusal::LockedOut(seconds));
        }
        self.wrong_seals = self.wrong_seals.saturating_add(1);
        if self.wrong_seals < WRONG_SEALS_MAX {
            return OrderCheck::Refused(Refusal::WrongSeal);
        }
        self.wrong_seals = 0;
        self.locked_at = Some(now);
        OrderCheck::LockOut(seconds(LOCK_OUT_MS))
    }

    /// Time left of a lock-out (s).
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

/// Why a sealed frame was not opened.
enum OpenError {
    /// The seal is right and the message cannot be decoded, or the frame is too short for a seal.
    Unreadable,
    /// No session is open or offered.
    NoSession,
    /// The seal belongs to none of them.
    WrongSeal,
}

/// Opens a frame with one key; `None` if the seal is another's.
#[inline]
fn try_key<'a>(
    body: &FrameBody<'a>,
    key: &SessionKey,
) -> Option<Result<(u32, Order<'a>), OpenError>> {
    match decode_sealed(body, key) {
        Ok(order) => Some(Ok(order)),
        Err(Some(_)) => Some(Err(OpenError::Unreadable)),
        Err(None) => None,
    }
}

fn seconds(millis: u64) -> u16 {
    u16::try_from(millis / 1000).unwrap_or(u16::MAX)
}
