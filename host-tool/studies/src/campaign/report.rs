//! What became of a case, for tables and for people.

use saggar_core::controller::StartError;
use saggar_core::events::Event;
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;

use super::case::CaseOutcome;

/// How a firing of a campaign ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CaseEnd {
    /// All steps were run.
    Completed,
    /// The interlock tripped.
    Tripped(Cause),
    /// The start was refused.
    Refused(StartError),
    /// It ended in another way.
    Ended(Ending),
    /// It waits for the operator, and does nothing by itself.
    Waits,
}

impl CaseEnd {
    /// From what is known at the end of a firing.
    pub(super) fn of(outcome: &CaseOutcome) -> Self {
        if let Some((cause, _)) = outcome.trip {
            return Self::Tripped(cause);
        }
        match (outcome.ending, outcome.not_started) {
            (Some(Ending::Completed), _) => Self::Completed,
            (Some(Ending::Tripped(cause)), _) => Self::Tripped(cause),
            (Some(ending), _) => Self::Ended(ending),
            (None, Some(refusal)) => Self::Refused(refusal.0),
            (None, None) => Self::Waits,
        }
    }

    /// In a word or two.
    pub fn words(self) -> String {
        match self {
            Self::Completed => "completed".to_owned(),
            Self::Tripped(cause) => format!("tripped: {}", cause.name()),
            Self::Refused(why) => format!("refused: {why:?}"),
            Self::Ended(ending) => format!("ended: {ending:?}"),
            Self::Waits => "waits for the operator".to_owned(),
        }
    }
}

/// A case and what became of it.
#[derive(Clone, Debug)]
pub struct CaseReport {
    /// Its id: `saggar campaign KIND --case ID` fires it again.
    pub id: String,
    /// Its row in the table.
    pub group: String,
    /// Its part of that row.
    pub variant: String,
    /// What went wrong in it, and when, in words.
    pub struck: Vec<String>,
    /// How it ended.
    pub end: CaseEnd,
    /// Time of the trip (s since the start button).
    pub tripped_at_s: Option<f64>,
    /// Time for which the fault could be seen up to the reaction, and its bound (s).
    pub reaction_s: Option<(f64, f64)>,
    /// Maximum of the muffle above what was asked for so far (K), and when (s).
    pub above_asked_k: (f64, f64),
    /// What was wrong with it; empty if nothing was.
    pub findings: Vec<String>,
    /// An invariant did not hold in it, in a way that is known.
    pub known_gap: bool,
    /// Its events, in time since the start button; kept only if something was wrong, or if it was fired
    /// alone.
    pub events: Vec<Event>,
    /// Arguments of `saggar rehearse` for the same firing, if it can show it.
    pub rehearse: Option<String>,
    /// More that was measured, for people.
    pub notes: Vec<String>,
}

impl CaseReport {
    /// A report of this outcome, without findings.
    pub(super) fn of(id: String, group: &str, outcome: CaseOutcome) -> Self {
        Self {
            end: CaseEnd::of(&outcome),
            tripped_at_s: outcome.measured.trip.map(|(_, at_s)| at_s),
            above_asked_k: outcome.measured.above_asked_k,
            findings: outcome.violations.iter().map(ToString::to_string).collect(),
            events: outcome.events,
            ..Self::completed(id, group)
        }
    }

    /// A report of a case that could not be set up, which is wrong.
    pub(super) fn unfired(id: String, group: &str, why: &saggar_bench::SetupError) -> Self {
        let findings = vec![format!("it cannot be set up: {why}")];
        Self { end: CaseEnd::Waits, findings, ..Self::completed(id, group) }
    }

    /// A report of a case that ran to its end, with nothing measured.
    pub(super) fn completed(id: String, group: &str) -> Self {
        Self {
            id,
            group: group.to_owned(),
            variant: String::new(),
            struck: Vec::new(),
            end: CaseEnd::Completed,
            tripped_at_s: None,
            reaction_s: None,
            above_asked_k: (f64::NEG_INFINITY, 0.0),
            findings: Vec::new(),
            known_gap: false,
            events: Vec::new(),
            rehearse: None,
            notes: Vec::new(),
        }
    }

    /// Whether the firing came to its end with everything as it should be, as if nothing were wrong.
    pub fn is_undisturbed(&self) -> bool {
        self.end == CaseEnd::Completed && self.findings.is_empty() && !self.known_gap
    }
}
