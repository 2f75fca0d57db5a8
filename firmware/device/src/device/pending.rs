//! Replies that wait to be sent.

use crate::wire::{Answer, Query, Refusal};

/// Which answer waits.
#[derive(Clone, Copy, Debug, Default)]
enum PendingAnswer {
    #[default]
    None,
    /// The answer to the last order.
    Last,
    /// A request to send again from this sequence number on.
    Expected(u32),
}

/// Pending replies: at most one of each kind, a newer one replaces an older.
#[derive(Clone, Debug, Default)]
pub(super) struct PendingReplies {
    answer: PendingAnswer,
    /// The answer to the last order, in case the client has not received it.
    last: Option<Answer>,
    pub(super) refusal: Option<Refusal>,
    pub(super) query: Option<Query>,
    pub(super) origin: bool,
    pub(super) tick: bool,
    pub(super) status: bool,
}

impl PendingReplies {
    pub(super) fn answer(&mut self, answer: Answer) {
        self.last = Some(answer);
        self.answer = PendingAnswer::Last;
    }

    pub(super) fn answer_again(&mut self) {
        self.answer = PendingAnswer::Last;
    }

    pub(super) fn expect(&mut self, sequence: u32) {
        self.answer = PendingAnswer::Expected(sequence);
    }

    pub(super) fn take_answer(&mut self) -> Option<Answer> {
        match core::mem::take(&mut self.answer) {
            PendingAnswer::None => None,
            PendingAnswer::Last => self.last,
            PendingAnswer::Expected(sequence) => Some(Answer::Expected { sequence }),
        }
    }

    pub(super) fn refuse(&mut self, why: Refusal) {
        self.refusal = Some(why);
    }

    pub(super) fn reply_to(&mut self, query: Query) {
        self.query = Some(query);
    }

    pub(super) fn restart_ticks(&mut self, ticks: bool) {
        self.origin = ticks;
        self.tick = false;
    }
}
