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

use super::transaction::ATTEMPTS_MAX;
use super::{LinkError, Session, Timeouts, Transaction};

/// After going back to an order, time in which frames that were under way may still ask for the
/// same. Longer than what is in the buffers of a slow line; shorter than an answer may take.
const DUPLICATE_REQUEST_WINDOW: Duration = Duration::from_millis(400);

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
    InvalidateOlder,
}

/// A run of orders under way. Its output is the answer to the last.
#[derive(Debug)]
pub struct OrderSequence<'a> {
    session: Session,
    timeouts: Timeouts,
    orders: Vec<Order<'a>>,
    /// Orders that the device has taken, and the one to send next.
    acknowledged: u32,
    next: u32,
    /// When the first that is not taken is due, and how often it was.
    retry_at: Duration,
    attempts: u32,
    /// The order that was gone back to, and when.
    rewound: Option<(u32, Duration)>,
    /// The greeting that goes before the first order was sent.
    greeted: bool,
    /// The last order was sent at least once.
    last_order_sent: bool,
    /// The device itself refused an order, under its seal.
    refused: bool,
    /// Frames that were sent more than once.
    pub resent: u32,
    result: Option<Result<Answer, LinkError>>,
}

impl<'a> OrderSequence<'a> {
    /// The orders that a task takes. `None` if it is too long for the wire.
    pub fn new(session: Session, task: Task<'a>, pace: Timeouts) -> Option<Self> {
        let list = match task {
            Task::Stop => vec![Order::Stop],
            Task::Pledge { hash } => vec![Order::Pledge { hash }],
            Task::Reveal { number } => vec![Order::Reveal { number }],
            // No programme was begun in this session, so that no piece has a place.
            Task::InvalidateOlder => vec![Order::Chunk { offset: 0, data: &[] }],
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
            timeouts: pace,
            orders: list,
            acknowledged: 0,
            next: 0,
            retry_at: Duration::ZERO,
            attempts: 0,
            rewound: None,
            greeted: false,
            last_order_sent: false,
            refused: false,
            resent: 0,
            result: None,
        })
    }

    /// The last order went out: whatever came of it here, the device may have done it.
    pub const fn last_order_sent(&self) -> bool {
        self.last_order_sent
    }

    /// The device refused one of them under its seal; what it refuses changes nothing.
    pub const fn was_refused(&self) -> bool {
        self.refused
    }

    fn order(&self, index: u32) -> Option<&Order<'a>> {
        self.orders.get(usize::try_from(index).ok()?)
    }

    /// How long an answer to this order may take.
    fn answer_timeout(&self, index: u32) -> Duration {
        let long = self.order(index).is_some_and(Order::is_slow);
        if long { self.timeouts.flash } else { self.timeouts.answer }
    }

    /// The next order may go now.
    fn may_send(&self) -> bool {
        let under_way = self.next - self.acknowledged;
        let alone =
            |order: Option<&Order<'_>>| order.is_some_and(|order| !order.is_pipelined());
        let crowd = alone(self.order(self.next)) || alone(self.order(self.acknowledged));
        self.order(self.next).is_some()
            && (under_way == 0 || under_way < self.session.window && !crowd)
    }

    fn rewind(&mut self) {
        self.resent = self.resent.saturating_add(self.next - self.acknowledged);
        self.next = self.acknowledged;
        self.greeted = self.acknowledged > 0;
    }

    /// The device has taken all orders before this one.
    fn acknowledge(&mut self, now: Duration, before: u32) {
        if before > self.acknowledged {
            self.acknowledged = before;
            self.next = self.next.max(before);
            self.attempts = 0;
            self.retry_at = now + self.answer_timeout(self.acknowledged);
        }
    }

    fn on_answer(&mut self, now: Duration, sequence: u32, answer: Answer) {
        if let Answer::Refused(refusal) = answer {
            self.refused = true;
            self.result = Some(Err(LinkError::Refused(refusal)));
        } else if let Answer::Expected { sequence } = answer {
            self.on_expected(now, sequence);
        } else if (self.acknowledged..self.next).contains(&sequence) {
            self.acknowledge(now, sequence.saturating_add(1));
            self.result = self.check_answer(sequence, answer);
        }
    }

    fn on_expected(&mut self, now: Duration, sequence: u32) {
        if sequence < self.acknowledged || sequence >= self.next {
            return;
        }
        let echo = self.rewound.is_some_and(|(to, at)| {
            to == sequence && now.saturating_sub(at) < DUPLICATE_REQUEST_WINDOW
        });
        self.acknowledge(now, sequence);
        if !echo {
            self.rewind();
            self.rewound = Some((sequence, now));
        }
    }

    /// Whether an answer fits the last order that it is to; the last of all ends the run.
    fn check_answer(&self, sequence: u32, answer: Answer) -> Option<Result<Answer, LinkError>> {
        if !self.order(sequence)?.is_completed_by(&answer) {
            return Some(Err(LinkError::InvalidReply("an answer to another order")));
        }
        (self.acknowledged as usize == self.orders.len()).then_some(Ok(answer))
    }
}

impl Transaction for OrderSequence<'_> {
    type Output = Answer;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if self.result.is_some() {
            return None;
        }
        if self.next > self.acknowledged && now >= self.retry_at {
            self.attempts += 1;
            if self.attempts == ATTEMPTS_MAX {
                self.result = Some(Err(LinkError::NoAnswer { broken_frames: 0 }));
                return None;
            }
            self.rewind();
        }
        if !self.may_send() {
            return None;
        }
        if self.next == 0 && !std::mem::replace(&mut self.greeted, true) {
            let greeting = Query::Hello { nonce: self.session.client_nonce };
            return encode_frame(FrameKind::Query, None, &greeting, frame);
        }
        if self.next == self.acknowledged {
            self.retry_at = now + self.answer_timeout(self.next);
        }
        let order = *self.order(self.next)?;
        let sealed = Some((self.next, &self.session.seal));
        self.next += 1;
        self.last_order_sent |= self.next as usize == self.orders.len();
        encode_frame(FrameKind::Order, sealed, &order, frame)
    }

    fn receive(&mut self, now: Duration, body: &FrameBody<'_>) {
        if self.result.is_some() {
            return;
        }
        match body.kind {
            // A seal that is not this session's: an answer to somebody else.
            FrameKind::Answer => {
                if let Ok((sequence, answer)) =
                    decode_sealed::<Answer>(body, &self.session.seal)
                {
                    self.on_answer(now, sequence, answer);
                }
            }
            FrameKind::Notice => {
                if let Ok(Notice::Refused(refusal)) = body.message::<Notice<'_>>() {
                    self.result = Some(Err(LinkError::Refused(refusal)));
                }
            }
            FrameKind::Query | FrameKind::Order => {}
        }
    }

    fn poll_at(&self) -> Duration {
        self.retry_at
    }

    fn take_result(&mut self) -> Option<Result<Answer, LinkError>> {
        self.result.take()
    }
}
