//! What a rehearsal leaves behind: a page to read, a chart, a trace and a verdict for programs.
//!
//! [`Report`] holds what there is to say; its methods turn that into text or bytes and touch no
//! file. [`save()`] puts all of them into a folder. The page stands alone: it asks for nothing
//! from a network, can be read without its script, and prints.

mod axis;
mod content;
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

pub use content::{Report, StageBand};
pub use failure::Failure;
pub use json::{SCHEMA, VERSION};
#[cfg(not(feature = "png"))]
use saggar_files::feature::{Feature, MissingFeature};
pub use save::{FILES, Saved, save, try_folder};
pub use table::Table;
pub use words::how;

/// This build draws a chart as pixels.
pub const DRAWS_PNG: bool = cfg!(feature = "png");

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
}
