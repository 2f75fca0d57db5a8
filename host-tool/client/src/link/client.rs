//! The client of one device: every query and order is one call.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{
    Answer, DeviceStatus, Hello, LogEntry, NONCE_BYTES, Notice, Query, Refusal,
};
use sha2::{Digest as _, Sha256};

use super::port::{PortAddress, PortConfig};
use super::{
    FetchQuery, FetchTarget, Link, LinkError, LogQuery, OrderSequence, PortLink, QuerySeries,
    QueryTransaction, Session, SingleQuery, Subscriber, Task, Timeouts, Transaction,
    Unsubscribe, UpdateBatch, WithSubscriber,
};

/// Sessions to try before an order fails: another client may open a session between our hello and
/// our first order. Each such loss counts as a wrong seal at the device, which locks out after
/// [`saggar_device::link::WRONG_SEALS_MAX`] of them.
const SESSIONS_MAX: u32 = 4;

/// Wait before the next session. During a lock-out the device still obeys the right key, so trying
/// again makes sense.
const SESSION_RETRY_WAIT: Duration = Duration::from_millis(200);

/// A client connected to a device.
pub struct Client<L = PortLink> {
    /// The link to the device.
    pub link: L,
    /// The device's last hello.
    pub hello: Hello,
    /// Called with the reason before each retry over a new connection.
    pub on_retry: Option<OnRetry>,
    client_nonce: [u8; NONCE_BYTES],
    timeouts: Timeouts,
    /// Runs beside every other transaction while there is one.
    subscriber: Option<Subscriber>,
}

/// Called with the reason for a retry.
pub type OnRetry = Box<dyn FnMut(&LinkError)>;

/// Orders that failed, or that nobody acknowledged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderError {
    /// Why.
    pub cause: LinkError,
    /// The last order was sent, so the device may have obeyed it although no answer came.
    pub last_order_sent: bool,
    /// The device refused an order, and sealed the refusal.
    pub refused: bool,
}

impl Client {
    /// Opens a port and says hello.
    ///
    /// # Errors
    /// The port cannot be opened, or no device answers.
    pub fn connect(config: &PortConfig) -> Result<Self, LinkError> {
        let timeouts = match config.address {
            PortAddress::Serial(_) => Timeouts::for_baud(config.baud),
            PortAddress::Tcp(_) => Timeouts::for_baud(u32::MAX),
        };
        Self::with_link(PortLink::new(config), timeouts)
    }
}

impl<L: Link> Client<L> {
    /// Says hello over a link.
    ///
    /// # Errors
    /// No device answers.
    pub fn with_link(link: L, timeouts: Timeouts) -> Result<Self, LinkError> {
        let mut client = Self {
            link,
            hello: Hello::default(),
            on_retry: None,
            client_nonce: [0; NONCE_BYTES],
            timeouts,
            subscriber: None,
        };
        client.greet()?;
        Ok(client)
    }

    /// Subscribes to the device's updates, from now on and beside every other transaction.
    pub fn subscribe(&mut self) {
        self.subscriber = Some(Subscriber::new());
    }

    /// The updates since the last call, beginning with an origin; waits briefly for the first.
    ///
    /// # Errors
    /// There is no subscription, the device has gone silent, or the link fails.
    pub fn next_updates(&mut self) -> Result<UpdateBatch, LinkError> {
        let subscriber = self
            .subscriber
            .as_mut()
            .ok_or(LinkError::InvalidReply("updates without a subscription"))?;
        self.link.run(subscriber)
    }

    /// Has the updates start over with an origin.
    pub fn resync(&mut self) {
        if let Some(subscriber) = &mut self.subscriber {
            subscriber.resync();
        }
    }

    /// Ends the subscription.
    pub fn unsubscribe(&mut self) {
        self.subscriber = None;
        // Should this be lost, the device ends it after a minute without a query.
        let _ = self.run(&mut Unsubscribe::default());
    }

    /// Closes the connection. The next transaction opens another one, and a subscription starts over.
    pub fn close(&mut self) {
        self.link.close();
        if self.subscriber.is_some() {
            self.subscribe();
        }
    }

    fn run<T: Transaction>(&mut self, main: &mut T) -> Result<T::Output, LinkError> {
        match &mut self.subscriber {
            Some(subscriber) => self.link.run(&mut WithSubscriber { main, subscriber }),
            None => self.link.run(main),
        }
    }

    fn ask<Q: QuerySeries>(&mut self, series: Q) -> Result<Q::Output, LinkError> {
        self.run(&mut QueryTransaction::new(series, self.timeouts))
    }

    /// Says hello: opens a session, and renews [`Self::hello`].
    ///
    /// # Errors
    /// No device answers, or the system has no random numbers.
    pub fn greet(&mut self) -> Result<(), LinkError> {
        let nonce = self.link.random_nonce()?;
        let hello = |notice: &Notice<'_>| {
            if let Notice::Hello(hello) = notice { Some(*hello) } else { None }
        };
        self.hello = self.ask(SingleQuery(Query::Hello { nonce }, hello))?;
        self.client_nonce = nonce;
        Ok(())
    }

    /// The device's status.
    ///
    /// # Errors
    /// No device answers.
    pub fn status(&mut self) -> Result<DeviceStatus, LinkError> {
        let status = |notice: &Notice<'_>| {
            if let Notice::Status(status) = notice { Some(*status) } else { None }
        };
        self.ask(SingleQuery(Query::Status, status))
    }

    /// The entries of the device's log from this number on.
    ///
    /// # Errors
    /// No device answers.
    pub fn log(&mut self, from: u32) -> Result<Vec<LogEntry>, LinkError> {
        self.ask(LogQuery::new(from))
    }

    /// The bytes of the device's programme (empty without one) or of its furnace data.
    ///
    /// # Errors
    /// No device answers, or the bytes do not have the digest of its hello.
    pub fn fetch(&mut self, target: FetchTarget) -> Result<Vec<u8>, LinkError> {
        let expected = match target {
            FetchTarget::Programme => self.hello.programme,
            FetchTarget::Furnace => Some(self.hello.furnace),
        };
        let Some(expected) = expected else { return Ok(Vec::new()) };
        let bytes = self.ask(FetchQuery::new(target))?;
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(&bytes).into();
        if digest == expected {
            Ok(bytes)
        } else {
            Err(LinkError::InvalidReply("bytes with another digest than announced"))
        }
    }

    /// Gives the orders of a task, in a session of their own. Tries again in another session if one
    /// of another client's displaced it.
    ///
    /// # Errors
    /// Why the task failed, or why its outcome is unknown.
    pub fn order(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, OrderError> {
        let mut last_order_sent = false;
        let mut sessions = 1;
        loop {
            let mut failed = match self.order_once(task, key) {
                Ok(answer) => return Ok(answer),
                Err(failed) => failed,
            };
            last_order_sent |= failed.last_order_sent;
            failed.last_order_sent = last_order_sent;
            let was_displaced = matches!(
                failed.cause,
                LinkError::Refused(
                    Refusal::WrongSeal | Refusal::NoSession | Refusal::LockedOut(_)
                )
            );
            if !was_displaced || sessions == SESSIONS_MAX {
                return Err(failed);
            }
            sessions += 1;
            self.link.sleep(SESSION_RETRY_WAIT);
        }
    }

    fn order_once(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, OrderError> {
        let nothing_sent = |cause| OrderError { cause, last_order_sent: false, refused: false };
        self.greet().map_err(nothing_sent)?;
        let session =
            Session::of(&self.hello, &self.client_nonce, key).map_err(nothing_sent)?;
        let mut orders = OrderSequence::new(session, task, self.timeouts).ok_or_else(|| {
            nothing_sent(LinkError::InvalidReply("a programme that is too long for the wire"))
        })?;
        let outcome = self.run(&mut orders);
        let (last_order_sent, refused) = (orders.last_order_sent(), orders.was_refused());
        outcome.map_err(|cause| OrderError { cause, last_order_sent, refused })
    }
}
