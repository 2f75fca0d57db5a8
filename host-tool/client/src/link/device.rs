//! A device as commands see it: questions and orders, each in one call.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{
    Answer, DeviceStatus, Hello, LogEntry, NONCE_BYTES, Notice, Query, Refusal,
};
use sha2::{Digest as _, Sha256};

use super::port::{At, Place};
use super::{
    Asking, Batch, Beside, Carrier, Exchange, Failed, Farewell, Fetch, Following, Line, Log,
    Once, Orders, Pace, Question, Session, Task, What,
};

/// Sessions in which orders are tried: between a greeting and its first order somebody else can
/// have opened another one. Each costs a wrong seal at the device, and
/// [`saggar_device::link::WRONG_MAX`] of them are a lock-out.
const SESSIONS: u32 = 4;

/// Wait before another session. A device that is locked out says nothing of whose seals were wrong,
/// and obeys the right one.
const BETWEEN_SESSIONS: Duration = Duration::from_millis(200);

/// A device at the end of a line.
pub struct Desk<C = Line> {
    /// The line.
    pub line: C,
    /// What the device said of itself last.
    pub hello: Hello,
    /// Is told why something is tried again over another connection.
    pub on_retry: Option<OnRetry>,
    desk: [u8; NONCE_BYTES],
    pace: Pace,
    /// What goes on beside everything else that is said.
    following: Option<Following>,
}

/// Is told why something is tried again.
pub type OnRetry = Box<dyn FnMut(&Failed)>;

/// Orders that came to nothing, as far as is known here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    /// Why.
    pub why: Failed,
    /// The last of them went out, so that the device may have done it all the same.
    pub sent_last: bool,
    /// The device refused one of them, under its seal.
    pub refused: bool,
}

impl Desk {
    /// Opens a port and greets whoever is there.
    ///
    /// # Errors
    /// The port cannot be had, or nobody answers.
    pub fn at(at: &At) -> Result<Self, Failed> {
        let pace = match at.place {
            Place::Serial(_) => Pace::at(at.baud),
            Place::Here(_) => Pace::at(u32::MAX),
        };
        Self::over(Line::to(at), pace)
    }
}

impl<C: Carrier> Desk<C> {
    /// Greets whoever is at the end of a line.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn over(line: C, pace: Pace) -> Result<Self, Failed> {
        let mut desk = Self {
            line,
            hello: Hello::default(),
            on_retry: None,
            desk: [0; NONCE_BYTES],
            pace,
            following: None,
        };
        desk.greet()?;
        Ok(desk)
    }

    /// Follows the device from now on, whatever else it is asked meanwhile.
    pub fn follow(&mut self) {
        self.following = Some(Following::new());
    }

    /// What it has told since the last time, beginning with an origin; waits for it a little.
    ///
    /// # Errors
    /// It is not followed, it has fallen silent, or the line fails.
    pub fn news(&mut self) -> Result<Batch, Failed> {
        let following = self.following.as_mut().ok_or(Failed::Odd("nobody follows it"))?;
        self.line.run(following)
    }

    /// Has it begin anew, with an origin.
    pub fn begin_anew(&mut self) {
        if let Some(following) = &mut self.following {
            following.begin_anew();
        }
    }

    /// Follows it no longer, and tells it so.
    pub fn unfollow(&mut self) {
        self.following = None;
        // If it does not hear that it ends by itself in a minute.
        let _ = self.run(&mut Farewell::default());
    }

    /// Closes the connection. The next thing that is said opens another, and whoever follows begins
    /// anew.
    pub fn close(&mut self) {
        self.line.close();
        if self.following.is_some() {
            self.follow();
        }
    }

    fn run<E: Exchange>(&mut self, main: &mut E) -> Result<E::Output, Failed> {
        match &mut self.following {
            Some(following) => self.line.run(&mut Beside { main, following }),
            None => self.line.run(main),
        }
    }

    fn ask<A: Asking>(&mut self, asking: A) -> Result<A::Found, Failed> {
        self.run(&mut Question::new(asking, self.pace))
    }

    /// Greets anew: a new session, and what has changed.
    ///
    /// # Errors
    /// Nobody answers, or the system has no random numbers.
    pub fn greet(&mut self) -> Result<(), Failed> {
        let nonce = self.line.draw()?;
        let hello = |tell: &Notice<'_>| {
            if let Notice::Hello(hello) = tell { Some(*hello) } else { None }
        };
        self.hello = self.ask(Once(Query::Hello { nonce }, hello))?;
        self.desk = nonce;
        Ok(())
    }

    /// How the furnace stands.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn status(&mut self) -> Result<DeviceStatus, Failed> {
        let status = |tell: &Notice<'_>| {
            if let Notice::Status(status) = tell { Some(*status) } else { None }
        };
        self.ask(Once(Query::Status, status))
    }

    /// The lines of its log from this number on.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn log(&mut self, from: u32) -> Result<Vec<LogEntry>, Failed> {
        self.ask(Log::new(from))
    }

    /// The bytes of its programme, none if it has none, or of its furnace's data.
    ///
    /// # Errors
    /// Nobody answers, or the bytes have not the digest that the device says.
    pub fn fetch(&mut self, what: What) -> Result<Vec<u8>, Failed> {
        let wanted = match what {
            What::Programme => self.hello.programme,
            What::Furnace => Some(self.hello.furnace),
        };
        let Some(wanted) = wanted else { return Ok(Vec::new()) };
        let bytes = self.ask(Fetch::new(what))?;
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(&bytes).into();
        if digest == wanted {
            Ok(bytes)
        } else {
            Err(Failed::Odd("bytes that have not their digest"))
        }
    }

    /// Has something done. Greets anew first, so that the session is a new one, and again if
    /// another one took its place.
    ///
    /// # Errors
    /// Why it was not done, or is not known to be.
    pub fn order(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, Undone> {
        let mut sent_last = false;
        let mut sessions = 1;
        loop {
            let mut undone = match self.order_once(task, key) {
                Ok(answer) => return Ok(answer),
                Err(undone) => undone,
            };
            sent_last |= undone.sent_last;
            undone.sent_last = sent_last;
            let displaced = matches!(
                undone.why,
                Failed::Refused(
                    Refusal::WrongSeal | Refusal::NoSession | Refusal::LockedOut(_)
                )
            );
            if !displaced || sessions == SESSIONS {
                return Err(undone);
            }
            sessions += 1;
            self.line.pause(BETWEEN_SESSIONS);
        }
    }

    fn order_once(&mut self, task: Task<'_>, key: &DeviceKey) -> Result<Answer, Undone> {
        let begun = |why| Undone { why, sent_last: false, refused: false };
        self.greet().map_err(begun)?;
        let session = Session::of(&self.hello, &self.desk, key).map_err(begun)?;
        let mut orders = Orders::new(session, task, self.pace)
            .ok_or_else(|| begun(Failed::Odd("a programme that is too long for the wire")))?;
        let outcome = self.run(&mut orders);
        let (sent_last, refused) = (orders.sent_last(), orders.refused());
        outcome.map_err(|why| Undone { why, sent_last, refused })
    }
}
