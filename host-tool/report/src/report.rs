//! What there is to say about one rehearsal.

use saggar_bench::trace::Trace;
use saggar_plant::verdict::{Verdict, Wording};

/// A stage of the schedule and when it ran.
#[derive(Clone, Debug, PartialEq)]
pub struct StageBand {
    /// Which stage of its file, from 1: a vacuum stage counts and has no band of its own.
    pub number: usize,
    /// The step of the programme that it became, from 0.
    pub step: u8,
    /// What the schedule calls it; may be empty.
    pub name: String,
    /// What sort of stage it is, in one word.
    pub kind: String,
    /// What it does, in a phrase.
    pub what: String,
    /// Beginning (s since the start).
    pub from_s: f64,
    /// End (s).
    pub to_s: f64,
}

impl StageBand {
    /// The name, or the kind of a stage that has none, with a capital.
    pub(super) fn title(&self) -> String {
        if !self.name.trim().is_empty() {
            return self.name.clone();
        }
        let mut letters = self.kind.chars();
        letters
            .next()
            .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
    }
}

/// All that is to be said about one rehearsal.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// What the report is about, as its heading.
    pub title: &'a str,
    /// Name of the schedule.
    pub schedule_name: &'a str,
    /// Name of the furnace profile.
    pub furnace_name: &'a str,
    /// Digest of the programme, in hexadecimal.
    pub digest_hex: &'a str,
    /// Seed that replays the rehearsal.
    pub seed: u64,
    /// The trace.
    pub trace: &'a Trace,
    /// The stages that ran, in order.
    pub stages: Vec<StageBand>,
    /// The verdict; the page puts the failed findings first.
    pub verdict: &'a Verdict,
    /// More facts, each a label and a value.
    pub facts: Vec<(String, String)>,
    /// In which terms the findings are said, and in which scale the page and the chart show
    /// temperatures. The numbers of files for programs keep °C.
    pub terms: Wording<'a>,
}

impl Report<'_> {
    /// Length of the trace (s), which goes on after the firing's end; 0 if it is empty.
    pub(super) fn trace_s(&self) -> f64 {
        let rows = self.trace.rows.iter().map(|row| row.at_s);
        rows.filter(|at_s| at_s.is_finite()).fold(0.0, f64::max)
    }
}
