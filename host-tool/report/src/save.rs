//! Writes a report into a folder, with the clearance if the rehearsal has one: all files of one
//! rehearsal, or none.

use std::fs;
use std::path::{Path, PathBuf};

use crate::Report;
use crate::ReportError;
use crate::furnace_state;
use saggar_files::atomic_file;
use saggar_files::file_set;
use saggar_schedule::clearance::{self, Clearance};

/// The names of the files, in the order of [`SavedReport`].
pub const FILES: [&str; 6] = [
    "report.html",
    "chart.svg",
    "chart.png",
    "trace.csv",
    "verdict.json",
    furnace_state::FILE_NAME,
];

/// All files that may be in the folder, in the order in which they are written. The clearance is last, so
/// that it never exists without the rest.
const NAMES: [&str; 7] = {
    let [html, svg, png, csv, json, state] = FILES;
    [html, svg, png, csv, json, state, clearance::FILE_NAME]
};

/// Where the files of a report are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SavedReport {
    /// The page.
    pub html: PathBuf,
    /// The chart as a drawing.
    pub svg: PathBuf,
    /// The chart as pixels, if it was asked for.
    pub png: Option<PathBuf>,
    /// The trace.
    pub csv: PathBuf,
    /// The verdict for programs.
    pub json: PathBuf,
    /// The state in which the firing left the furnace.
    pub furnace_state: PathBuf,
    /// The clearance, if there is one.
    pub clearance: Option<PathBuf>,
}

/// Writes the files of a report into `dir`, which is created if necessary; with the chart as a PNG if `png`
/// is set, and with the clearance if there is one. Files of an earlier run are replaced, and those
/// that this run does not write are removed.
pub fn save(
    dir: &Path,
    report: &Report<'_>,
    png: bool,
    clearance: Option<&Clearance>,
) -> Result<SavedReport, ReportError> {
    let mut trace = Vec::new();
    report.csv(&mut trace)?;
    let Report { furnace_name, digests, furnace_at_end, .. } = report;
    let state = furnace_state::to_json(furnace_name, digests, furnace_at_end)?;
    let contents = [
        Some(report.html()?.into_bytes()),
        Some(report.svg().into_bytes()),
        png.then(|| report.png()).transpose()?,
        Some(trace),
        Some(report.json()?.into_bytes()),
        Some(state.into_bytes()),
        clearance.map(|clearance| clearance.to_json().into_bytes()),
    ];
    prepare_folder(dir)?;
    let files: Vec<(&str, Vec<u8>)> = NAMES
        .into_iter()
        .zip(contents)
        .filter_map(|(name, content)| Some((name, content?)))
        .collect();
    file_set::replace(dir, &NAMES, &files)?;
    let [html, svg, pixels, csv, json, furnace_state, cleared] = paths(dir);
    let (png, clearance) = (png.then_some(pixels), clearance.map(|_| cleared));
    Ok(SavedReport { html, svg, png, csv, json, furnace_state, clearance })
}

/// Creates the folder of a report if necessary, and checks that the files can be written there.
pub fn prepare_folder(dir: &Path) -> Result<(), ReportError> {
    fs::create_dir_all(dir).map_err(|error| {
        let why = atomic_file::describe_io_error(&error);
        ReportError::Folder { path: dir.to_owned(), why }
    })?;
    Ok(atomic_file::prepare_folder(dir, &paths(dir))?)
}

fn paths(dir: &Path) -> [PathBuf; 7] {
    NAMES.map(|name| dir.join(name))
}
