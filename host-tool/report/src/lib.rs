//! What a rehearsal leaves behind: a page to read, a chart, a trace and a verdict for programs.
//!
//! [`Report`] holds what there is to say; its methods turn that into text or bytes and touch no
//! file. [`save()`] puts all of them into a folder. The page stands alone: it asks for nothing
//! from a network, can be read without its script, and prints.

mod axis;
mod draw;
mod failure;
mod json;
mod layout;
mod model;
mod page;
mod palette;
mod picture;
#[cfg(feature = "png")]
mod pixels;
mod save;
mod table;
mod thin;
mod words;

#[cfg(test)]
mod fixture;
#[cfg(test)]
mod tests;

use std::io;

use saggar_bench::trace::Trace;
use saggar_plant::verdict::{Terms, Verdict};

pub use failure::Failure;
pub use json::{SCHEMA, VERSION};
#[cfg(not(feature = "png"))]
use saggar_files::feature::{Feature, MissingFeature};
pub use save::{FILES, Saved, save, try_folder};
pub use table::Table;
pub use words::how;

/// This build draws a chart as pixels.
pub const DRAWS_PNG: bool = cfg!(feature = "png");

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
    fn title(&self) -> String {
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
    pub terms: Terms<'a>,
}

impl Report<'_> {
    /// The page.
    pub fn html(&self) -> Result<String, Failure> {
        page::page(self)
    }

    /// The chart, as a drawing that stands alone.
    pub fn svg(&self) -> String {
        picture::svg(self)
    }

    /// The chart, as pixels, in a build that can.
    pub fn png(&self) -> Result<Vec<u8>, Failure> {
        #[cfg(feature = "png")]
        return pixels::png(self);
        #[cfg(not(feature = "png"))]
        return Err(MissingFeature(Feature::Png).into());
    }

    /// Every row of the trace, as comma-separated values.
    pub fn csv(&self, out: impl io::Write) -> Result<(), Failure> {
        let mut table = Table::new(out)?;
        self.trace.rows.iter().try_for_each(|row| table.row(row))?;
        table.finish().map(drop)
    }

    /// The verdict for programs.
    pub fn json(&self) -> Result<String, Failure> {
        json::text(self)
    }

    /// Length of the trace (s), which goes on after the firing's end; 0 if it is empty.
    fn trace_s(&self) -> f64 {
        let rows = self.trace.rows.iter().map(|row| row.at_s);
        rows.filter(|at_s| at_s.is_finite()).fold(0.0, f64::max)
    }
}
