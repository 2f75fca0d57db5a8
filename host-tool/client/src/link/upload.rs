//! A run of orders: go back to the first that was not taken, and send again from there.
//!
//! Right before the first order the device is greeted once more with the same number, which offers
//! the same session anew: others who greet in between cannot have displaced it then.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{
    Answer, CHUNK_BYTES, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Order, Query,
    RANDOM_BYTES, decode_sealed, encode_frame,
};
use sha2::{Digest as _, Sha256};

use super::exchange::TRIES;
use super::{Exchange, Failed, Pace, Session};

/// After going back to an order, time in which frames that were under way may still ask for the
/// same. Longer than what is in the buffers of a slow line; shorter than an answer may take.
const ECHO: Duration = Duration::from_millis(400);

/// What to have done.
#[derive(Clone, Copy, Debug)]
pub enum Task<'a> {
    /// These bytes are to be the active programme.
    Upload {
        /// The bytes.
        programme: &'a [u8],
        /// Digest of the furnace's data for which they were cleared.
        furnace: [u8; DIGEST_BYTES],
    },
    /// End the firing.
    Stop,
    /// Take this hash of a number for the code that a person compares.
    Pledge {
        /// [`saggar_device::wire::pledge`] of it.
        hash: [u8; DIGEST_BYTES],
    },
    /// Show the code that this number makes.
    Reveal {
        /// The number that was pledged.
        number: [u8; RANDOM_BYTES],
    },
    /// Do nothing, in a session of its own: orders of sessions before it are void then, those too
    /// that are still under way.
    Nothing,
}

/// A run of orders under way. Its output is the answer to the last.
#[derive(Debug)]
pub struct Orders<'a> {
    session: Session,
    pace: Pace,
    list: Vec<Order<'a>>,
    /// Orders that the device has taken, and the one to send next.
    taken: u32,
    next: u32,
    /// When the first that is not taken is due, and how often it was.
    due: Duration,
    tries: u32,
    /// The order that was gone back to, and when.
    went_back: Option<(u32, Duration)>,
    /// The greeting that goes before the first order was sent.
    greeted: bool,
    /// The last order was sent at least once.
    sent_last: bool,
    /// The device itself refused an order, under its seal.
    refused: bool,
    /// Frames that were sent more than once.
    pub again: u32,
    outcome: Option<Result<Answer, Failed>>,
}

impl<'a> Orders<'a> {
    /// The orders that a task takes. `None` if it is too long for the wire.
    pub fn new(session: Session, task: Task<'a>, pace: Pace) -> Option<Self> {
        let list = match task {
            Task::Stop => vec![Order::Stop],
            Task::Pledge { hash } => vec![Order::Pledge { hash }],
            Task::Reveal { number } => vec![Order::Reveal { number }],
            // No programme was begun in this session, so that no piece has a place.
            Task::Nothing => vec![Order::Chunk { offset: 0, data: &[] }],
            Task::Upload { programme, furnace } => {
                let bytes = u16::try_from(programme.len()).ok()?;
                let digest: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
                let chunks = (0u16..).step_by(CHUNK_BYTES).zip(programme.chunks(CHUNK_BYTES));
                let mut list = vec![Order::Begin { bytes, digest, furnace }];
                list.extend(chunks.map(|(offset, data)| Order::Chunk { offset, data }));
                list.push(Order::Commit { digest });
                list
            }
        };
        Some(Self {
            session,
            pace,
            list,
            taken: 0,
            next: 0,
            due: Duration::ZERO,
            tries: 0,
            went_back: None,
            greeted: false,
            sent_last: false,
            refused: false,
            again: 0,
            outcome: None,
        })
    }

    /// The last order went out: whatever came of it here, the device may have done it.
    pub const fn sent_last(&self) -> bool {
        self.sent_last
    }

    /// The device refused one of them under its seal; what it refuses changes nothing.
    pub const fn refused(&self) -> bool {
        self.refused
    }

    fn order(&self, index: u32) -> Option<&Order<'a>> {
        self.list.get(usize::try_from(index).ok()?)
    }

    /// How long an answer to this order may take.
    fn patience(&self, index: u32) -> Duration {
        let long = self.order(index).is_some_and(Order::is_slow);
        if long { self.pace.flash } else { self.pace.answer }
    }

    /// The next order may go now.
    fn may_go(&self) -> bool {
        let under_way = self.next - self.taken;
        let alone =
            |order: Option<&Order<'_>>| order.is_some_and(|order| !order.is_pipelined());
        let crowd = alone(self.order(self.next)) || alone(self.order(self.taken));
        self.order(self.next).is_some()
            && (under_way == 0 || under_way < self.session.window && !crowd)
    }

    fn go_back(&mut self) {
        self.again = self.again.saturating_add(self.next - self.taken);
        self.next = self.taken;
        self.greeted = self.taken > 0;
    }

    /// The device has taken all orders before this one.
    fn take(&mut self, now: Duration, before: u32) {
        if before > self.taken {
            self.taken = before;
            self.next = self.next.max(before);
            self.tries = 0;
            self.due = now + self.patience(self.taken);
        }
    }

    fn answered(&mut self, now: Duration, sequence: u32, answer: Answer) {
        if let Answer::Refused(refusal) = answer {
            self.refused = true;
            self.outcome = Some(Err(Failed::Refused(refusal)));
        } else if let Answer::Expected { sequence } = answer {
            self.expected(now, sequence);
        } else if (self.taken..self.next).contains(&sequence) {
            self.take(now, sequence.saturating_add(1));
            self.outcome = self.judged(sequence, answer);
        }
    }

    fn expected(&mut self, now: Duration, sequence: u32) {
        if sequence < self.taken || sequence >= self.next {
            return;
        }
        let echo = self
            .went_back
            .is_some_and(|(to, at)| to == sequence && now.saturating_sub(at) < ECHO);
        self.take(now, sequence);
        if !echo {
            self.go_back();
            self.went_back = Some((sequence, now));
        }
    }

    /// Whether an answer fits the last order that it is to; the last of all ends the run.
    fn judged(&self, sequence: u32, answer: Answer) -> Option<Result<Answer, Failed>> {
        if !self.order(sequence)?.is_completed_by(&answer) {
            return Some(Err(Failed::Odd("an answer to another order")));
        }
        (self.taken as usize == self.list.len()).then_some(Ok(answer))
    }
}

impl Exchange for Orders<'_> {
    type Output = Answer;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if self.outcome.is_some() {
            return None;
        }
        if self.next > self.taken && now >= self.due {
            self.tries += 1;
            if self.tries == TRIES {
                self.outcome = Some(Err(Failed::Silent { noise: 0 }));
                return None;
            }
            self.go_back();
        }
        if !self.may_go() {
            return None;
        }
        if self.next == 0 && !std::mem::replace(&mut self.greeted, true) {
            let greeting = Query::Hello { nonce: self.session.desk };
            return encode_frame(FrameKind::Query, None, &greeting, frame);
        }
        if self.next == self.taken {
            self.due = now + self.patience(self.next);
        }
        let order = *self.order(self.next)?;
        let sealed = Some((self.next, &self.session.seal));
        self.next += 1;
        self.sent_last |= self.next as usize == self.list.len();
        encode_frame(FrameKind::Order, sealed, &order, frame)
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        if self.outcome.is_some() {
            return;
        }
        match body.kind {
            // A seal that is not this session's: an answer to somebody else.
            FrameKind::Answer => {
                if let Ok((sequence, answer)) =
                    decode_sealed::<Answer>(body, &self.session.seal)
                {
                    self.answered(now, sequence, answer);
                }
            }
            FrameKind::Notice => {
                if let Ok(Notice::Refused(refusal)) = body.message::<Notice<'_>>() {
                    self.outcome = Some(Err(Failed::Refused(refusal)));
                }
            }
            FrameKind::Query | FrameKind::Order => {}
        }
    }

    fn wake(&self) -> Duration {
        self.due
    }

    fn outcome(&mut self) -> Option<Result<Answer, Failed>> {
        self.outcome.take()
    }
}
