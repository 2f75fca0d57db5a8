//! The output of a rehearsal, or of a recorded firing: a page to read, a chart, a trace and a verdict for programs.
//!
//! [`Report`] holds the data; its methods turn them into text or bytes and touch no file. [`save()`]
//! writes all of them into a folder. The page is self-contained: it loads nothing from a network,
//! can be read without its script, and prints.

mod axis;
mod draw;
mod error;
mod event_text;
mod facts;
mod folder_name;
mod furnace_state;
mod json;
mod layout;
mod model;
mod page;
mod palette;
#[cfg(feature = "png")]
mod pixels;
mod report;
mod result;
mod save;
mod svg_file;
mod thin;
mod trace_csv;

#[cfg(test)]
mod fixture;
#[cfg(test)]
mod tests;

use std::io;

pub use error::ReportError;
pub use event_text::{WEAK_HEATER, ending_phrase, plain_event_phrase};
pub use facts::{utc_timestamp, work_facts};
pub use folder_name::folder_name;
pub use furnace_state::read_furnace_state;
pub use json::{SCHEMA, VERSION};
pub use report::{Digests, FaultMark, Report, ReportKind, StageBand};
#[cfg(not(feature = "png"))]
use saggar_files::feature::{Feature, MissingFeatureError};
pub use save::{FILES, SavedReport, prepare_folder, save};
pub use trace_csv::TraceCsv;

/// This build draws a chart as pixels.
pub const DRAWS_PNG: bool = cfg!(feature = "png");

impl Report<'_> {
    /// The page.
    pub fn html(&self) -> Result<String, ReportError> {
        page::page(self)
    }

    /// The chart, as a drawing that stands alone.
    pub fn svg(&self) -> String {
        svg_file::svg(self)
    }

    /// The chart, as pixels, in a build that can.
    pub fn png(&self) -> Result<Vec<u8>, ReportError> {
        #[cfg(feature = "png")]
        return pixels::png(self);
        #[cfg(not(feature = "png"))]
        return Err(MissingFeatureError(Feature::Png).into());
    }

    /// Every row of the trace, as comma-separated values.
    pub fn csv(&self, out: impl io::Write) -> Result<(), ReportError> {
        let mut table = TraceCsv::new(out)?;
        self.trace.rows.iter().try_for_each(|row| table.row(row))?;
        table.finish().map(drop)
    }

    /// The verdict for programs.
    pub fn json(&self) -> Result<String, ReportError> {
        json::text(self)
    }
}
