//! Greetings that a device has answered with an offer of a session.
//!
//! A device remembers few of them, and one too many displaces the first. So that nobody who greets
//! on and on keeps others from ordering, one more greeting waits as long as the order of the one
//! that it would displace may still be under way.

use std::time::{Duration, Instant as Clock};

use saggar_device::link::OFFERS_MAX;
use saggar_device::wire::NONCE_BYTES;

/// The order comes within this time after a greeting, or may find it displaced.
const ORDER_WINDOW: Duration = Duration::from_millis(30);

/// The greetings that the device remembers, the latest first.
#[derive(Default)]
pub(super) struct Greetings(Vec<Greeting>);

struct Greeting {
    /// The number in it: the same number again is the same greeting.
    nonce: [u8; NONCE_BYTES],
    client: u64,
    sent_at: Clock,
    /// An order came since. If its seal was wrong, the offer stands.
    ordered: bool,
    /// It was taken.
    accepted: bool,
}

impl Greetings {
    /// Whether a greeting displaces none but one that is too old, or its own.
    pub(super) fn allow(&self, whose: u64, nonce: &[u8; NONCE_BYTES], now: Clock) -> bool {
        let displaces = |last: &Greeting| {
            let under_way = now.duration_since(last.sent_at) < ORDER_WINDOW && !last.accepted;
            under_way && last.client != whose
        };
        self.0.iter().any(|greeting| greeting.nonce == *nonce)
            || !self.0.get(OFFERS_MAX - 1).is_some_and(displaces)
    }

    /// One more went to the device.
    pub(super) fn add(&mut self, whose: u64, nonce: &[u8; NONCE_BYTES], now: Clock) {
        let new = Greeting {
            nonce: *nonce,
            client: whose,
            sent_at: now,
            ordered: false,
            accepted: false,
        };
        match self.0.iter_mut().find(|greeting| greeting.nonce == *nonce) {
            Some(same) => *same = new,
            None => self.0.insert(0, new),
        }
        self.0.truncate(OFFERS_MAX);
    }

    /// Whether one has greeted and not ordered yet.
    pub(super) fn awaits_order(&self, whose: u64) -> bool {
        self.0.iter().any(|greeting| greeting.client == whose && !greeting.ordered)
    }

    /// One has sent an order.
    pub(super) fn note_order(&mut self, whose: u64) {
        self.from_client(whose).for_each(|greeting| greeting.ordered = true);
    }

    /// The device has taken it.
    pub(super) fn note_accepted(&mut self, whose: u64) {
        self.from_client(whose).for_each(|greeting| greeting.accepted = true);
    }

    fn from_client(&mut self, whose: u64) -> impl Iterator<Item = &mut Greeting> {
        self.0.iter_mut().filter(move |greeting| greeting.client == whose)
    }
}
