//! What the device has to say and has not said yet.

use crate::wire::{Answer, Query, Refusal};

/// Which answer is due.
#[derive(Clone, Copy, Debug, Default)]
enum PendingAnswer {
    #[default]
    None,
    /// What came of the last order.
    Last,
    /// Orders from this sequence number on got lost.
    Expected(u32),
}

/// What is due.
#[derive(Clone, Debug, Default)]
pub(super) struct PendingReplies {
    answer: PendingAnswer,
    /// What came of the last order, should the desk not have heard it.
    last: Option<Answer>,
    pub(super) refusal: Option<Refusal>,
    pub(super) question: Option<Query>,
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

    pub(super) fn ask(&mut self, question: Query) {
        self.question = Some(question);
    }

    pub(super) fn follow(&mut self, ticks: bool) {
        self.origin = ticks;
        self.tick = false;
    }
}
