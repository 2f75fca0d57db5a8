//! How the result of a verdict looks: by class, mark and word, never by its colour alone.

use saggar_verdict::{Outcome, VerdictResult};

/// Class, mark and word of a result.
pub(super) const fn look(result: VerdictResult) -> (&'static str, &'static str, &'static str) {
    match result {
        VerdictResult::Pass => ("pass", "✓", "Pass"),
        VerdictResult::Fail => ("fail", "✗", "Fail"),
        VerdictResult::NotKnown => ("unknown", "?", "Not known"),
    }
}

/// Class and word of a finding, with its mark.
pub(super) const fn finding_look(outcome: Outcome) -> (&'static str, &'static str) {
    match outcome {
        Outcome::Pass => ("pass", "✓ Pass"),
        Outcome::Fail => ("fail", "✗ Fail"),
        Outcome::NotKnown => ("unknown", "? Not known"),
        Outcome::Note => ("note", "Note"),
    }
}
