//! Greetings that a device has answered with an offer of a session.
//!
//! A device keeps few offers, and a greeting too many replaces the oldest. So that nobody who greets
//! on and on keeps others from ordering, one more greeting waits as long as the order to the oldest
//! offer may still be under way.

use std::time::{Duration, Instant as Clock};

/// Offers that a device keeps.
const OFFERS: usize = 1;

/// The order to an offer comes within this time, or may find the offer replaced.
const ORDER_WITHIN: Duration = Duration::from_millis(100);

/// The greetings.
#[derive(Default)]
pub(super) struct Greetings(Vec<Greeting>);

struct Greeting {
    at: Clock,
    whose: u64,
    /// An order came since. If its seal was wrong, the offer stands.
    ordered: bool,
}

impl Greetings {
    /// Whether a greeting replaces no offer but one that is too old, or its own.
    pub(super) fn allow(&self, whose: u64, now: Clock) -> bool {
        let open = || self.0.iter().filter(|greeting| greeting.is_open(now));
        open().count() < OFFERS || open().all(|greeting| greeting.whose == whose)
    }

    /// One more went to the device.
    pub(super) fn add(&mut self, whose: u64, now: Clock) {
        self.0.retain(|greeting| greeting.is_open(now));
        self.0.push(Greeting { at: now, whose, ordered: false });
    }

    /// Whether one has greeted and not ordered yet.
    pub(super) fn expect(&self, whose: u64) -> bool {
        self.0.iter().any(|greeting| greeting.whose == whose && !greeting.ordered)
    }

    /// One has sent an order.
    pub(super) fn ordered(&mut self, whose: u64) {
        self.0.iter_mut().filter(|one| one.whose == whose).for_each(|one| one.ordered = true);
    }

    /// The device has taken it: there is room for another offer.
    pub(super) fn taken(&mut self, whose: u64) {
        if let Some(at) = self.0.iter().rposition(|greeting| greeting.whose == whose) {
            self.0.remove(at);
        }
    }
}

impl Greeting {
    fn is_open(&self, now: Clock) -> bool {
        now.duration_since(self.at) < ORDER_WITHIN
    }
}
