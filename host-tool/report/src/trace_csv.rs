//! A trace as comma-separated values: every row, one column for each of [`COLUMNS`].

use std::io;

use saggar_bench::trace::{COLUMNS, Row};

use crate::ReportError;

/// Writes a trace row by row.
pub struct TraceCsv<W: io::Write>(csv::Writer<W>);

impl<W: io::Write> TraceCsv<W> {
    /// Writes the header.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn new(out: W) -> Result<Self, ReportError> {
        let mut writer = csv::Writer::from_writer(out);
        writer.write_record(COLUMNS.iter().map(|column| column.name))?;
        Ok(Self(writer))
    }

    /// Adds a row. A value that is missing or not a number is an empty cell.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn row(&mut self, row: &Row) -> Result<(), ReportError> {
        let cells = COLUMNS.iter().map(|column| cell((column.value)(row)));
        Ok(self.0.write_record(cells)?)
    }

    /// Flushes the output and returns it.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(self) -> Result<W, ReportError> {
        Ok(self.0.into_inner().map_err(|error| csv::Error::from(error.into_error()))?)
    }
}

/// A value to a millionth of its unit, finer than any instrument.
fn cell(value: Option<f64>) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
    // Adding zero turns a negative zero into a plain one.
    let rounded = (value * 1e6).round() / 1e6 + 0.0;
    rounded.to_string()
}
