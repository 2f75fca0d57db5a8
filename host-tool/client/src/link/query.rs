//! Queries: asked again until they are answered, or given up.

use std::time::Duration;

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Query, encode_frame};

use super::transaction::ATTEMPTS_MAX;
use super::{LinkError, Timeouts, Transaction};

/// One or more queries whose replies add up to one result.
pub trait QuerySeries {
    /// The result.
    type Output;

    /// The next query.
    fn request(&self) -> Query;

    /// Takes a notice of the device, if it is the reply.
    ///
    /// # Errors
    /// No correct device sends this.
    fn accept(&mut self, notice: &Notice<'_>) -> Result<ReplyMatch<Self::Output>, LinkError>;

    /// Checks the time that all queries together have taken.
    ///
    /// # Errors
    /// They take too long.
    fn check_duration(&self, _time: Duration, _timeouts: Timeouts) -> Result<(), LinkError> {
        Ok(())
    }
}

/// What a notice is to a query.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReplyMatch<T> {
    /// Not a reply to it.
    Unrelated,
    /// Its reply, and another query follows.
    Partial,
    /// The last reply.
    Complete(T),
}

/// Sends the queries of a series one by one, each again until its reply comes.
#[derive(Debug)]
pub struct QueryTransaction<Q: QuerySeries> {
    query: Q,
    timeouts: Timeouts,
    started_at: Option<Duration>,
    /// How often the current query was sent, and when to send it next.
    attempts: u32,
    retry_at: Duration,
    result: Option<Result<Q::Output, LinkError>>,
}

impl<Q: QuerySeries> QueryTransaction<Q> {
    /// A transaction that has sent nothing yet.
    pub const fn new(query: Q, timeouts: Timeouts) -> Self {
        Self {
            query,
            timeouts,
            started_at: None,
            attempts: 0,
            retry_at: Duration::ZERO,
            result: None,
        }
    }
}

impl<Q: QuerySeries> Transaction for QueryTransaction<Q> {
    type Output = Q::Output;

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
        // A notice that cannot be read is ignored: the query is sent again.
        let Ok(notice) = body.message::<Notice<'_>>() else { return };
        self.result = match self.query.accept(&notice) {
            Ok(ReplyMatch::Complete(found)) => Some(Ok(found)),
            Ok(ReplyMatch::Partial) => {
                (self.attempts, self.retry_at) = (0, Duration::ZERO);
                None
            }
            Ok(ReplyMatch::Unrelated) => {
                if let Notice::Refused(why) = notice {
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

    fn take_result(&mut self) -> Option<Result<Q::Output, LinkError>> {
        self.result.take()
    }
}

/// One query, and a function that picks its result out of a notice.
pub struct SingleQuery<F>(pub Query, pub F);

impl<T, F: Fn(&Notice<'_>) -> Option<T>> QuerySeries for SingleQuery<F> {
    type Output = T;

    fn request(&self) -> Query {
        self.0
    }

    fn accept(&mut self, notice: &Notice<'_>) -> Result<ReplyMatch<T>, LinkError> {
        Ok((self.1)(notice).map_or(ReplyMatch::Unrelated, ReplyMatch::Complete))
    }
}
