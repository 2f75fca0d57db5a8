//! A device as commands see it: questions and orders, each in one call.

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

/// Sessions in which orders are tried: between a greeting and its first order somebody else can
/// have opened another one. Each costs a wrong seal at the device, and
/// [`saggar_device::link::WRONG_MAX`] of them are a lock-out.
const SESSIONS_MAX: u32 = 4;

/// Wait before another session. A device that is locked out says nothing of whose seals were wrong,
/// and obeys the right one.
const SESSION_RETRY_WAIT: Duration = Duration::from_millis(200);

/// A device at the end of a line.
pub struct Client<C = PortLink> {
    /// The line.
    pub link: C,
    /// What the device said of itself last.
    pub hello: Hello,
    /// Is told why something is tried again over another connection.
    pub on_retry: Option<OnRetry>,
    client_nonce: [u8; NONCE_BYTES],
    timeouts: Timeouts,
    /// What goes on beside everything else that is said.
    subscriber: Option<Subscriber>,
}

/// Is told why something is tried again.
pub type OnRetry = Box<dyn FnMut(&LinkError)>;

/// Orders that came to nothing, as far as is known here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OrderError {
    /// Why.
    pub cause: LinkError,
    /// The last of them went out, so that the device may have done it all the same.
    pub last_order_sent: bool,
    /// The device refused one of them, under its seal.
    pub refused: bool,
}

impl Client {
    /// Opens a port and greets whoever is there.
    ///
    /// # Errors
    /// The port cannot be had, or nobody answers.
    pub fn connect(at: &PortConfig) -> Result<Self, LinkError> {
        let pace = match at.address {
            PortAddress::Serial(_) => Timeouts::for_baud(at.baud),
            PortAddress::Tcp(_) => Timeouts::for_baud(u32::MAX),
        };
        Self::with_link(PortLink::new(at), pace)
    }
}

impl<C: Link> Client<C> {
    /// Greets whoever is at the end of a line.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn with_link(line: C, pace: Timeouts) -> Result<Self, LinkError> {
        let mut desk = Self {
            link: line,
            hello: Hello::default(),
            on_retry: None,
            client_nonce: [0; NONCE_BYTES],
            timeouts: pace,
            subscriber: None,
        };
        desk.greet()?;
        Ok(desk)
    }

    /// Follows the device from now on, whatever else it is asked meanwhile.
    pub fn subscribe(&mut self) {
        self.subscriber = Some(Subscriber::new());
    }

    /// What it has told since the last time, beginning with an origin; waits for it a little.
    ///
    /// # Errors
    /// It is not followed, it has fallen silent, or the line fails.
    pub fn next_updates(&mut self) -> Result<UpdateBatch, LinkError> {
        let following =
            self.subscriber.as_mut().ok_or(LinkError::InvalidReply("nobody follows it"))?;
        self.link.run(following)
    }

    /// Has it begin anew, with an origin.
    pub fn resync(&mut self) {
        if let Some(following) = &mut self.subscriber {
            following.resync();
        }
    }

    /// Follows it no longer, and tells it so.
    pub fn unsubscribe(&mut self) {
        self.subscriber = None;
        // If it does not hear that it ends by itself in a minute.
        let _ = self.run(&mut Unsubscribe::default());
    }

    /// Closes the connection. The next thing that is said opens another, and whoever follows begins
    /// anew.
    pub fn close(&mut self) {
        self.link.close();
        if self.subscriber.is_some() {
            self.subscribe();
        }
    }

    fn run<E: Transaction>(&mut self, main: &mut E) -> Result<E::Output, LinkError> {
        match &mut self.subscriber {
            Some(following) => {
                self.link.run(&mut WithSubscriber { main, subscriber: following })
            }
            None => self.link.run(main),
        }
    }

    fn ask<A: QuerySeries>(&mut self, asking: A) -> Result<A::Output, LinkError> {
        self.run(&mut QueryTransaction::new(asking, self.timeouts))
    }

    /// Greets anew: a new session, and what has changed.
    ///
    /// # Errors
    /// Nobody answers, or the system has no random numbers.
    pub fn greet(&mut self) -> Result<(), LinkError> {
        let nonce = self.link.random_nonce()?;
        let hello = |tell: &Notice<'_>| {
            if let Notice::Hello(hello) = tell { Some(*hello) } else { None }
        };
        self.hello = self.ask(SingleQuery(Query::Hello { nonce }, hello))?;
        self.client_nonce = nonce;
        Ok(())
    }

    /// How the furnace stands.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn status(&mut self) -> Result<DeviceStatus, LinkError> {
        let status = |tell: &Notice<'_>| {
            if let Notice::Status(status) = tell { Some(*status) } else { None }
        };
        self.ask(SingleQuery(Query::Status, status))
    }

    /// The lines of its log from this number on.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn log(&mut self, from: u32) -> Result<Vec<LogEntry>, LinkError> {
        self.ask(LogQuery::new(from))
    }

    /// The bytes of its programme, none if it has none, or of its furnace's data.
    ///
    /// # Errors
    /// Nobody answers, or the bytes have not the digest that the device says.
    pub fn fetch(&mut self, what: FetchTarget) -> Result<Vec<u8>, LinkError> {
        let wanted = match what {
            FetchTarget::Programme => self.hello.programme,
            FetchTarget::Furnace => Some(self.hello.furnace),
        };
        let Some(wanted) = wanted else { return Ok(Vec::new()) };
        let bytes = self.ask(FetchQuery::new(what))?;
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(&bytes).into();
        if digest == wanted {
            Ok(bytes)
        } else {
            Err(LinkError::InvalidReply("bytes that have not their digest"))
        }
    }

    /// Has something done. Greets anew first, so that the session is a new one, and again if
    /// another one took its place.
    ///
    /// # Errors
    /// Why it was not done, or is not known to be.
    pub fn order(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, OrderError> {
        let mut sent_last = false;
        let mut sessions = 1;
        loop {
            let mut undone = match self.order_once(task, key) {
                Ok(answer) => return Ok(answer),
                Err(undone) => undone,
            };
            sent_last |= undone.last_order_sent;
            undone.last_order_sent = sent_last;
            let displaced = matches!(
                undone.cause,
                LinkError::Refused(
                    Refusal::WrongSeal | Refusal::NoSession | Refusal::LockedOut(_)
                )
            );
            if !displaced || sessions == SESSIONS_MAX {
                return Err(undone);
            }
            sessions += 1;
            self.link.sleep(SESSION_RETRY_WAIT);
        }
    }

    fn order_once(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, OrderError> {
        let begun = |why| OrderError { cause: why, last_order_sent: false, refused: false };
        self.greet().map_err(begun)?;
        let session = Session::of(&self.hello, &self.client_nonce, key).map_err(begun)?;
        let mut orders = OrderSequence::new(session, task, self.timeouts).ok_or_else(|| {
            begun(LinkError::InvalidReply("a programme that is too long for the wire"))
        })?;
        let outcome = self.run(&mut orders);
        let (sent_last, refused) = (orders.last_order_sent(), orders.was_refused());
        outcome.map_err(|why| OrderError { cause: why, last_order_sent: sent_last, refused })
    }
}
