//! Questions, and answers that come or do not.

use std::time::Duration;

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Query, encode_frame};

use super::transaction::ATTEMPTS_MAX;
use super::{LinkError, Timeouts, Transaction};

/// What is to be found out, with one question or one after another.
pub trait QuerySeries {
    /// What the answers come to.
    type Output;

    /// The question that is next.
    fn request(&self) -> Query;

    /// Looks at what the device tells.
    ///
    /// # Errors
    /// No true device says this.
    fn accept(&mut self, tell: &Notice<'_>) -> Result<ReplyMatch<Self::Output>, LinkError>;

    /// Whether the answers may take so long, all in all.
    ///
    /// # Errors
    /// They may not.
    fn check_duration(&self, _time: Duration, _pace: Timeouts) -> Result<(), LinkError> {
        Ok(())
    }
}

/// What something that was heard is to a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReplyMatch<T> {
    /// No answer to it.
    Unrelated,
    /// Its answer, and there is another question.
    Partial,
    /// Its answer, and the last one.
    Complete(T),
}

/// Asks until the last answer has come or nobody answers.
#[derive(Debug)]
pub struct QueryTransaction<A: QuerySeries> {
    query: A,
    timeouts: Timeouts,
    started_at: Option<Duration>,
    /// How often the question at hand was asked, and when to ask it (again).
    attempts: u32,
    retry_at: Duration,
    result: Option<Result<A::Output, LinkError>>,
}

impl<A: QuerySeries> QueryTransaction<A> {
    /// Nothing was asked yet.
    pub const fn new(asking: A, pace: Timeouts) -> Self {
        Self {
            query: asking,
            timeouts: pace,
            started_at: None,
            attempts: 0,
            retry_at: Duration::ZERO,
            result: None,
        }
    }
}

impl<A: QuerySeries> Transaction for QueryTransaction<A> {
    type Output = A::Output;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if self.result.is_some() {
            return None;
        }
        let time = now.saturating_sub(*self.started_at.get_or_insert(now));
        if let Err(why) = self.query.check_duration(time, self.timeouts) {
            self.result = Some(Err(why));
        } else if now >= self.retry_at && self.attempts == ATTEMPTS_MAX {
            self.result = Some(Err(LinkError::NoAnswer { broken_frames: 0 }));
        } else if now >= self.retry_at {
            self.attempts += 1;
            self.retry_at = now + self.timeouts.answer;
            return encode_frame(FrameKind::Query, None, &self.query.request(), frame);
        }
        None
    }

    fn receive(&mut self, _: Duration, body: &FrameBody<'_>) {
        if body.kind != FrameKind::Notice || self.result.is_some() {
            return;
        }
        // What cannot be read is no answer; the question is asked again.
        let Ok(tell) = body.message::<Notice<'_>>() else { return };
        self.result = match self.query.accept(&tell) {
            Ok(ReplyMatch::Complete(found)) => Some(Ok(found)),
            Ok(ReplyMatch::Partial) => {
                (self.attempts, self.retry_at) = (0, Duration::ZERO);
                None
            }
            Ok(ReplyMatch::Unrelated) => {
                if let Notice::Refused(why) = tell {
                    Some(Err(LinkError::Refused(why)))
                } else {
                    None
                }
            }
            Err(why) => Some(Err(why)),
        };
    }

    fn poll_at(&self) -> Duration {
        self.retry_at
    }

    fn take_result(&mut self) -> Option<Result<A::Output, LinkError>> {
        self.result.take()
    }
}

/// One question, and what finds its answer in what the device tells.
pub struct SingleQuery<F>(pub Query, pub F);

impl<T, F: Fn(&Notice<'_>) -> Option<T>> QuerySeries for SingleQuery<F> {
    type Output = T;

    fn request(&self) -> Query {
        self.0
    }

    fn accept(&mut self, tell: &Notice<'_>) -> Result<ReplyMatch<T>, LinkError> {
        Ok((self.1)(tell).map_or(ReplyMatch::Unrelated, ReplyMatch::Complete))
    }
}
