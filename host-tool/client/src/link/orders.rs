//! A sequence of orders with a go-back-n window: after a loss, everything from the first
//! unacknowledged order on is sent again.
//!
//! Right before the first order the hello is repeated with the same nonce. That offers the same
//! session again, in case another client's hello has displaced it.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::{
    Answer, CHUNK_BYTES, FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Order, Query,
    RANDOM_BYTES, decode_sealed, encode_frame,
};
use sha2::{Digest as _, Sha256};

use super::transaction::ATTEMPTS_MAX;
use super::{LinkError, Session, Timeouts, Transaction};

/// After going back to an order, time in which further requests for it are duplicates that were on
/// their way: longer than a slow link buffers, shorter than an answer may take.
const DUPLICATE_REQUEST_WINDOW: Duration = Duration::from_millis(400);

/// What a sequence of orders is to achieve.
#[derive(Clone, Copy, Debug)]
pub enum Task<'a> {
    /// Makes these bytes the active programme.
    Upload {
        /// The bytes.
        programme: &'a [u8],
        /// Digest of the furnace data that they were cleared for.
        furnace: [u8; DIGEST_BYTES],
    },
    /// Stops the firing.
    Stop,
    /// Commits us to a number for the comparison code by its hash.
    Pledge {
        /// [`saggar_device::wire::pledge`] of it.
        hash: [u8; DIGEST_BYTES],
    },
    /// Reveals the number, so that the device can show the code.
    Reveal {
        /// The number that was pledged.
        number: [u8; RANDOM_BYTES],
    },
    /// Opens a session and does nothing in it: orders of earlier sessions that are still on their
    /// way become invalid.
    InvalidateOlder,
}

/// A run of orders under way. Its output is the answer to the last.
#[derive(Debug)]
pub struct OrderSequence<'a> {
    session: Session,
    timeouts: Timeouts,
    orders: Vec<Order<'a>>,
    /// Number of orders that the device has acknowledged, and the next one to send.
    acknowledged: u32,
    next: u32,
    /// When to resend the first unacknowledged order, and how often it was resent.
    retry_at: Duration,
    attempts: u32,
    /// The order that was last gone back to, and when.
    rewound: Option<(u32, Duration)>,
    /// The hello before the first order was sent.
    greeted: bool,
    /// The last order was sent at least once.
    last_order_sent: bool,
    /// The device refused an order, and sealed the refusal.
    refused: bool,
    /// Number of frames sent again.
    pub resent: u32,
    result: Option<Result<Answer, LinkError>>,
}

impl<'a> OrderSequence<'a> {
    /// The orders of a task. `None` if its programme is too long for the wire.
    pub fn new(session: Session, task: Task<'a>, timeouts: Timeouts) -> Option<Self> {
        let orders = match task {
            Task::Stop => vec![Order::Stop],
            Task::Pledge { hash } => vec![Order::Pledge { hash }],
            Task::Reveal { number } => vec![Order::Reveal { number }],
            // Always refused, because no programme was begun in this session.
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
            timeouts,
            orders,
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

    /// The last order was sent, so the device may have obeyed it.
    pub const fn last_order_sent(&self) -> bool {
        self.last_order_sent
    }

    /// The device refused an order, so it changed nothing.
    pub const fn was_refused(&self) -> bool {
        self.refused
    }

    fn order(&self, index: u32) -> Option<&Order<'a>> {
        self.orders.get(usize::try_from(index).ok()?)
    }

    /// Timeout for the answer to this order.
    fn answer_timeout(&self, index: u32) -> Duration {
        let is_slow = self.order(index).is_some_and(Order::is_slow);
        if is_slow { self.timeouts.flash } else { self.timeouts.answer }
    }

    /// Whether the window has space for the next order.
    fn may_send(&self) -> bool {
        let in_flight = self.next - self.acknowledged;
        let is_exclusive =
            |order: Option<&Order<'_>>| order.is_some_and(|order| !order.is_pipelined());
        let exclusive =
            is_exclusive(self.order(self.next)) || is_exclusive(self.order(self.acknowledged));
        self.order(self.next).is_some()
            && (in_flight == 0 || in_flight < self.session.window && !exclusive)
    }

    fn rewind(&mut self) {
        self.resent = self.resent.saturating_add(self.next - self.acknowledged);
        self.next = self.acknowledged;
        self.greeted = self.acknowledged > 0;
    }

    /// Notes that the device has taken all orders before this one.
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
        let is_duplicate = self.rewound.is_some_and(|(to, at)| {
            to == sequence && now.saturating_sub(at) < DUPLICATE_REQUEST_WINDOW
        });
        self.acknowledge(now, sequence);
        if !is_duplicate {
            self.rewind();
            self.rewound = Some((sequence, now));
        }
    }

    /// The result if this is the answer to the last order, or to none of them.
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
            // With the seal of another session it is the answer to another client.
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
