//! One question and its answer.

use std::time::Duration;

use saggar_device::wire::{Ask, Body, FRAME_BYTES_MAX, Kind, Tell, enclose};

use super::exchange::Again;
use super::{Exchange, Failed, Pace};

/// Asks until an answer comes or nobody does. `answer` looks at what the device tells and
/// returns what it was asked for, `None` if this is something else.
pub struct Question<T, F> {
    ask: Ask,
    answer: F,
    pace: Pace,
    again: Again,
    outcome: Option<Result<T, Failed>>,
}

impl<T, F: FnMut(&Tell<'_>) -> Option<T>> Question<T, F> {
    /// A question.
    pub fn new(ask: Ask, pace: Pace, answer: F) -> Self {
        Self { ask, answer, pace, again: Again::default(), outcome: None }
    }
}

impl<T, F: FnMut(&Tell<'_>) -> Option<T>> Exchange for Question<T, F> {
    type Output = T;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if !self.again.says(now, self.pace.answer, &mut self.outcome) {
            return None;
        }
        enclose(Kind::Ask, None, &self.ask, frame)
    }

    fn receive(&mut self, _: Duration, body: &Body<'_>) {
        if body.kind != Kind::Tell || self.outcome.is_some() {
            return;
        }
        // What cannot be read is no answer; the question is asked again.
        let Ok(tell) = body.message::<Tell<'_>>() else { return };
        self.outcome = if let Some(answer) = (self.answer)(&tell) {
            Some(Ok(answer))
        } else if let Tell::Refused(refusal) = tell {
            Some(Err(Failed::Refused(refusal)))
        } else {
            None
        };
    }

    fn wake(&self) -> Duration {
        self.again.due
    }

    fn outcome(&mut self) -> Option<Result<T, Failed>> {
        self.outcome.take()
    }
}
