//! Hellos that the device has answered with the offer of a session.
//!
//! A device keeps few offers, and a new hello displaces the oldest. So that a client that keeps
//! greeting cannot stop others from giving orders, a hello waits while the order of the client that
//! it would displace may still be on its way.

use std::time::{Duration, Instant as Clock};

use saggar_device::link::OFFERS_MAX;
use saggar_device::wire::NONCE_BYTES;

/// An order has to follow its hello within this time, or the offer may be gone.
const ORDER_WINDOW: Duration = Duration::from_millis(30);

/// The hellos that the device still has offers for, the latest first.
#[derive(Default)]
pub(super) struct Greetings(Vec<Greeting>);

struct Greeting {
    /// Its nonce; a hello with the same nonce is the same one.
    nonce: [u8; NONCE_BYTES],
    client: u64,
    sent_at: Clock,
    /// An order has followed. If its seal was wrong, the offer stands.
    ordered: bool,
    /// The order was accepted.
    accepted: bool,
}

impl Greetings {
    /// Whether a hello displaces no other client's recent one.
    pub(super) fn allow(&self, client: u64, nonce: &[u8; NONCE_BYTES], now: Clock) -> bool {
        let displaces = |last: &Greeting| {
            let in_flight = now.duration_since(last.sent_at) < ORDER_WINDOW && !last.accepted;
            in_flight && last.client != client
        };
        self.0.iter().any(|greeting| greeting.nonce == *nonce)
            || !self.0.get(OFFERS_MAX - 1).is_some_and(displaces)
    }

    /// Notes a hello that went to the device.
    pub(super) fn add(&mut self, client: u64, nonce: &[u8; NONCE_BYTES], now: Clock) {
        let new =
            Greeting { nonce: *nonce, client, sent_at: now, ordered: false, accepted: false };
        match self.0.iter_mut().find(|greeting| greeting.nonce == *nonce) {
            Some(same) => *same = new,
            None => self.0.insert(0, new),
        }
        self.0.truncate(OFFERS_MAX);
    }

    /// Whether a client has said hello and given no order yet.
    pub(super) fn awaits_order(&self, client: u64) -> bool {
        self.0.iter().any(|greeting| greeting.client == client && !greeting.ordered)
    }

    /// Notes that a client has sent an order.
    pub(super) fn note_order(&mut self, client: u64) {
        self.hellos_of(client).for_each(|greeting| greeting.ordered = true);
    }

    /// Notes that the device has accepted it.
    pub(super) fn note_accepted(&mut self, client: u64) {
        self.hellos_of(client).for_each(|greeting| greeting.accepted = true);
    }

    fn hellos_of(&mut self, client: u64) -> impl Iterator<Item = &mut Greeting> {
        self.0.iter_mut().filter(move |greeting| greeting.client == client)
    }
}
