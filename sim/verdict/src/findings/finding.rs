//! A finding of the verdict: a measured value against its limit.

use super::subject::Subject;
use super::unknown::Unknown;
use super::wording::Wording;
use crate::format::Scale;

/// Result of a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Inside the limit.
    Pass,
    /// Outside: the verdict fails.
    Fail,
    /// The model cannot tell: outside of what is known. The verdict is no pass.
    NotKnown,
    /// Information only; does not affect the verdict.
    Note,
}

impl Outcome {
    pub(super) fn pass_if(good: bool) -> Self {
        if good { Self::Pass } else { Self::Fail }
    }

    /// Of a value that must stay below `limit`; NaN fails.
    pub(super) fn at_most(measured: f64, limit: f64) -> Self {
        Self::pass_if(measured <= limit)
    }

    /// The result as a word in JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::NotKnown => "not-known",
            Self::Note => "note",
        }
    }
}

/// A model's outcome that does not count.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// The outcome.
    pub modelled: Outcome,
    /// Why it does not count; not empty.
    pub reasons: Vec<Unknown>,
}

impl Doubt {
    pub(super) fn sentence(&self, scale: Scale) -> String {
        let all: Vec<String> = self.reasons.iter().map(|why| why.sentence(scale)).collect();
        all.join(" ")
    }
}

/// A finding of the verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Its subject.
    pub subject: Subject,
    /// Its result.
    pub outcome: Outcome,
    /// The measured value, in the subject's SI unit, °C or K.
    pub measured: f64,
    /// The limit in the same unit; infinite without a limit.
    pub limit: f64,
    /// Distance to the limit over the limit, positive on the good side; NaN without a limit.
    pub margin: f64,
    /// When it happened (s since the start).
    pub at_s: Option<f64>,
    /// The step of the programme that it refers to, counted from 0.
    pub step: Option<u8>,
    /// Why the model's own outcome does not count, or would not if it passed; `None` if it does.
    pub doubt: Option<Doubt>,
}

impl Finding {
    /// A value that must stay below `limit`; NaN fails.
    pub(super) fn at_most(
        subject: Subject,
        measured: f64,
        limit: f64,
        at_s: Option<f64>,
    ) -> Self {
        let outcome = Outcome::at_most(measured, limit);
        let margin = (limit - measured) / limit;
        Self { subject, outcome, measured, limit, margin, at_s, step: None, doubt: None }
    }

    /// A value that must reach `limit`; NaN fails.
    pub(super) fn at_least(
        subject: Subject,
        measured: f64,
        limit: f64,
        at_s: Option<f64>,
    ) -> Self {
        let outcome = Outcome::pass_if(measured >= limit);
        let margin = (measured - limit) / limit;
        Self { subject, outcome, measured, limit, margin, at_s, step: None, doubt: None }
    }

    /// A value without a limit.
    pub(super) fn note(subject: Subject, measured: f64, at_s: Option<f64>) -> Self {
        let (outcome, limit, margin) = (Outcome::Note, f64::INFINITY, f64::NAN);
        Self { subject, outcome, measured, limit, margin, at_s, step: None, doubt: None }
    }

    /// The finding as not known for these reasons; as it is without any. What the model says is kept.
    pub(super) fn doubted(self, more: impl IntoIterator<Item = Unknown>) -> Self {
        let (modelled, mut reasons) = match &self.doubt {
            Some(doubt) => (doubt.modelled, doubt.reasons.clone()),
            None => (self.outcome, Vec::new()),
        };
        reasons.extend(more);
        if reasons.is_empty() {
            return self;
        }
        Self { outcome: Outcome::NotKnown, doubt: Some(Doubt { modelled, reasons }), ..self }
    }

    /// The finding as one line; a failed one begins with `FAIL`, one that is not known with
    /// `NOT KNOWN`.
    pub fn line<'a>(&self, wording: impl Into<Wording<'a>>) -> String {
        let mark = match self.outcome {
            Outcome::Fail => "FAIL ",
            Outcome::NotKnown => "NOT KNOWN ",
            Outcome::Pass | Outcome::Note => "",
        };
        format!("{mark}{}: {}", self.subject.title(), self.sentence(wording))
    }
}
