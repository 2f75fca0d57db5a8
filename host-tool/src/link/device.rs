//! A device as commands see it: questions and orders, each in one call.

use saggar_core::programme::DIGEST_BYTES;
use saggar_core::wire::seal::Key;
use saggar_core::wire::{Answer, Ask, Hello, LogLine, NONCE_BYTES, Refusal, Status, Tell};
use sha2::{Digest as _, Sha256};

use super::port::{Place, Port};
use super::{Failed, Fetch, Line, Log, Orders, Pace, Question, Session, Task, What};

/// A device at the end of a line.
pub struct Desk {
    /// The line.
    pub line: Line,
    /// What the device said of itself last.
    pub hello: Hello,
    desk: [u8; NONCE_BYTES],
    pace: Pace,
}

impl Desk {
    /// Opens a port and greets whoever is there.
    ///
    /// # Errors
    /// The port cannot be had, or nobody answers.
    pub fn at(place: &Place, baud: u32) -> Result<Self, Failed> {
        let line = Line::on(Port::open(place, baud)?)?;
        let pace = match place {
            Place::Serial(_) => Pace::at(baud),
            Place::Here(_) => Pace::at(u32::MAX),
        };
        let mut desk = Self { line, hello: nobody(), desk: [0; NONCE_BYTES], pace };
        desk.greet()?;
        Ok(desk)
    }

    /// Greets anew: a new session, and what has changed.
    ///
    /// # Errors
    /// Nobody answers, or the system has no random numbers.
    pub fn greet(&mut self) -> Result<(), Failed> {
        let mut nonce = [0; NONCE_BYTES];
        getrandom::fill(&mut nonce)
            .map_err(|_| Failed::Port("the system gives no random numbers".to_owned()))?;
        let hello = |tell: &Tell<'_>| match tell {
            Tell::Hello(hello) => Some(*hello),
            Tell::Status(_)
            | Tell::Origin(_)
            | Tell::Tick(_)
            | Tell::Log { .. }
            | Tell::Programme(_)
            | Tell::Furnace(_)
            | Tell::Refused(_) => None,
        };
        self.hello =
            self.line.run(&mut Question::new(Ask::Hello { nonce }, self.pace, hello))?;
        self.desk = nonce;
        Ok(())
    }

    /// How the furnace stands.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn status(&mut self) -> Result<Status, Failed> {
        let status = |tell: &Tell<'_>| match tell {
            Tell::Status(status) => Some(*status),
            Tell::Hello(_)
            | Tell::Origin(_)
            | Tell::Tick(_)
            | Tell::Log { .. }
            | Tell::Programme(_)
            | Tell::Furnace(_)
            | Tell::Refused(_) => None,
        };
        self.line.run(&mut Question::new(Ask::Status, self.pace, status))
    }

    /// The lines of its log from this number on.
    ///
    /// # Errors
    /// Nobody answers.
    pub fn log(&mut self, from: u32) -> Result<Vec<LogLine>, Failed> {
        self.line.run(&mut Log::new(from, self.pace))
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
        let bytes = self.line.run(&mut Fetch::new(what, self.pace))?;
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(&bytes).into();
        if digest == wanted {
            Ok(bytes)
        } else {
            Err(Failed::Odd("bytes that have not their digest"))
        }
    }

    /// Has something done. Greets anew first, so that the session is a new one.
    ///
    /// # Errors
    /// Why it was not done.
    pub fn order(&mut self, task: Task<'_>, key: &Key) -> Result<Answer, Failed> {
        match self.order_once(task, key) {
            // A greeting that was said twice leaves the device in the second session and the desk
            // in the first. With the right key that does not happen twice in a row.
            Err(Failed::Refused(Refusal::WrongSeal | Refusal::NoSession)) => {
                self.order_once(task, key)
            }
            other => other,
        }
    }

    fn order_once(&mut self, task: Task<'_>, key: &Key) -> Result<Answer, Failed> {
        self.greet()?;
        let session = Session::of(&self.hello, &self.desk, key)?;
        let mut orders = Orders::new(session, task, self.pace)
            .ok_or(Failed::Odd("a programme that is too long for the wire"))?;
        self.line.run(&mut orders)
    }
}

/// Before the first greeting.
const fn nobody() -> Hello {
    Hello {
        device: [0; 8],
        nonce: [0; NONCE_BYTES],
        has_key: false,
        version: [0; 3],
        boot: 0,
        furnace: [0; DIGEST_BYTES],
        programme: None,
        window: 1,
    }
}
