//! The trace as comma-separated values: every row, one column for each of [`COLUMNS`].

use std::io;

use saggar_bench::record::{COLUMNS, Record};

use super::Failure;

/// Writes all rows. A value that is missing or not a number is an empty cell.
pub(super) fn write(record: &Record, out: impl io::Write) -> Result<(), Failure> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(COLUMNS.iter().map(|column| column.name))?;
    for sample in &record.samples {
        writer.write_record(COLUMNS.iter().map(|column| cell((column.value)(sample))))?;
    }
    writer.flush().map_err(Failure::Flush)
}

/// A value to a millionth of its unit, finer than any instrument.
fn cell(value: Option<f64>) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
    // Adding zero turns a negative zero into a plain one.
    let rounded = (value * 1e6).round() / 1e6 + 0.0;
    rounded.to_string()
}
