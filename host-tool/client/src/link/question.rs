//! Questions, and answers that come or do not.

use std::time::Duration;

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody, FrameKind, Notice, Query, encode_frame};

use super::exchange::TRIES;
use super::{Exchange, Failed, Pace};

/// What is to be found out, with one question or one after another.
pub trait Asking {
    /// What the answers come to.
    type Found;

    /// The question that is next.
    fn ask(&self) -> Query;

    /// Looks at what the device tells.
    ///
    /// # Errors
    /// No true device says this.
    fn hear(&mut self, tell: &Notice<'_>) -> Result<Heard<Self::Found>, Failed>;

    /// Whether the answers may take so long, all in all.
    ///
    /// # Errors
    /// They may not.
    fn may_take(&self, _time: Duration, _pace: Pace) -> Result<(), Failed> {
        Ok(())
    }
}

/// What something that was heard is to a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard<T> {
    /// No answer to it.
    Other,
    /// Its answer, and there is another question.
    Part,
    /// Its answer, and the last one.
    All(T),
}

/// Asks until the last answer has come or nobody answers.
#[derive(Debug)]
pub struct Question<A: Asking> {
    asking: A,
    pace: Pace,
    began: Option<Duration>,
    /// How often the question at hand was asked, and when to ask it (again).
    asked: u32,
    due: Duration,
    outcome: Option<Result<A::Found, Failed>>,
}

impl<A: Asking> Question<A> {
    /// Nothing was asked yet.
    pub const fn new(asking: A, pace: Pace) -> Self {
        Self { asking, pace, began: None, asked: 0, due: Duration::ZERO, outcome: None }
    }
}

impl<A: Asking> Exchange for Question<A> {
    type Output = A::Found;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if self.outcome.is_some() {
            return None;
        }
        let time = now.saturating_sub(*self.began.get_or_insert(now));
        if let Err(why) = self.asking.may_take(time, self.pace) {
            self.outcome = Some(Err(why));
        } else if now >= self.due && self.asked == TRIES {
            self.outcome = Some(Err(Failed::Silent { noise: 0 }));
        } else if now >= self.due {
            self.asked += 1;
            self.due = now + self.pace.answer;
            return encode_frame(FrameKind::Query, None, &self.asking.ask(), frame);
        }
        None
    }

    fn receive(&mut self, _: Duration, body: &FrameBody<'_>) {
        if body.kind != FrameKind::Notice || self.outcome.is_some() {
            return;
        }
        // What cannot be read is no answer; the question is asked again.
        let Ok(tell) = body.message::<Notice<'_>>() else { return };
        self.outcome = match self.asking.hear(&tell) {
            Ok(Heard::All(found)) => Some(Ok(found)),
            Ok(Heard::Part) => {
                (self.asked, self.due) = (0, Duration::ZERO);
                None
            }
            Ok(Heard::Other) => {
                if let Notice::Refused(why) = tell {
                    Some(Err(Failed::Refused(why)))
                } else {
                    None
                }
            }
            Err(why) => Some(Err(why)),
        };
    }

    fn wake(&self) -> Duration {
        self.due
    }

    fn outcome(&mut self) -> Option<Result<A::Found, Failed>> {
        self.outcome.take()
    }
}

/// One question, and what finds its answer in what the device tells.
pub struct Once<F>(pub Query, pub F);

impl<T, F: Fn(&Notice<'_>) -> Option<T>> Asking for Once<F> {
    type Found = T;

    fn ask(&self) -> Query {
        self.0
    }

    fn hear(&mut self, tell: &Notice<'_>) -> Result<Heard<T>, Failed> {
        Ok((self.1)(tell).map_or(Heard::Other, Heard::All))
    }
}
