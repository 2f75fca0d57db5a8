//! Everything that a report shows about one firing.

use saggar_bench::trace::Trace;
use saggar_plant::furnace_state::FurnaceState;
use saggar_verdict::{Verdict, Wording};

/// Name and version of the tool.
pub(super) const TOOL: &str = concat!("saggar ", env!("CARGO_PKG_VERSION"));

/// A stage of the schedule and when it ran.
#[derive(Clone, Debug, PartialEq)]
pub struct StageBand {
    /// Number of the stage in its file, from 1. A vacuum stage is counted but never runs by itself.
    pub number: usize,
    /// The step of the programme that it was compiled to, from 0.
    pub step: u8,
    /// Its name in the schedule; may be empty.
    pub name: String,
    /// Its kind, in one word: "ramp".
    pub kind: String,
    /// What it does, in a phrase that follows the kind: "to 1120 °C at 40 K/min".
    pub what: String,
    /// Beginning (s since the start).
    pub from_s: f64,
    /// End (s).
    pub to_s: f64,
}

impl StageBand {
    /// The name, or the kind with a capital letter if the stage has no name.
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

/// A fault of the simulation that struck during the firing.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultMark {
    /// When it struck (s since the start).
    pub at_s: f64,
    /// Its name, as on the command line, and a remark.
    pub name: String,
}

/// What a report is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReportKind {
    /// A simulated firing.
    Rehearsal,
    /// A firing that a device recorded. Readings are the device's; what sensors cannot know is computed
    /// by a simulated furnace that the recorded outputs drive.
    Recording,
}

/// Everything that a report shows about one firing.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// What it is about.
    pub kind: ReportKind,
    /// The heading: what was fired.
    pub title: &'a str,
    /// Name of the schedule's file.
    pub schedule_name: &'a str,
    /// Name of the furnace profile.
    pub furnace_name: &'a str,
    /// How the rehearsal differs from a plain one, "with mains at 70 %"; `None` if it does not.
    pub conditions: Option<String>,
    /// Date and time of the rehearsal, or of the beginning of the recording, ready to be shown. The caller supplies it, so that equal
    /// reports have equal bytes.
    pub made_at: Option<String>,
    /// SHA-256 of the programme, the schedule's text and the profile's text, in hexadecimal.
    pub digests: Digests,
    /// Seed that replays the rehearsal.
    pub seed: u64,
    /// The furnace and the piece when start was pressed.
    pub furnace_at_start: FurnaceState,
    /// The furnace at the end of the trace.
    pub furnace_at_end: FurnaceState,
    /// The trace.
    pub trace: &'a Trace,
    /// The stages that ran, in order.
    pub stages: Vec<StageBand>,
    /// The faults that struck.
    pub faults: Vec<FaultMark>,
    /// Difference between the two temperature channels at which the interlock trips (K).
    pub channels_differ_max_k: Option<f64>,
    /// The verdict; the page puts the failed findings first.
    pub verdict: &'a Verdict,
    /// Why the programme is not cleared for an upload, in phrases; empty if it is.
    pub obstacles: Vec<&'static str>,
    /// Why a person lets the programme go on, although its verdict is not known.
    pub reason: Option<&'a str>,
    /// More facts, each a label and a value.
    pub facts: Vec<(String, String)>,
    /// How findings are worded, and the temperature scale of page and chart. Files for programs
    /// keep °C.
    pub terms: Wording<'a>,
}

/// SHA-256 digests, in hexadecimal, which identify the inputs of a report.
#[derive(Clone, Debug, Default)]
pub struct Digests {
    /// Of the programme's bytes.
    pub programme: String,
    /// Of the schedule's text.
    pub schedule: String,
    /// Of the furnace profile's text.
    pub profile: String,
    /// Of the furnace data that a device stores, by which it tells furnaces apart.
    pub furnace: String,
}

impl Report<'_> {
    /// Length of the trace (s), which goes on after the end of the firing; 0 if it is empty.
    pub(super) fn trace_s(&self) -> f64 {
        let rows = self.trace.rows.iter().map(|row| row.at_s);
        rows.filter(|at_s| at_s.is_finite()).fold(0.0, f64::max)
    }

    /// Furnace and conditions: "on Dunlin, with mains at 70 %".
    pub(super) fn circumstances(&self) -> String {
        let conditions = self.conditions.as_ref().map(|phrase| format!(", {phrase}"));
        format!("on {}{}", self.furnace_name, conditions.unwrap_or_default())
    }
}
