//! Puts a report into a folder.
//!
//! Everything is made before anything is written, and only when all files are on the disk, each
//! under another name, and no name is a folder's, do they take their names: the five belong to
//! one rehearsal, as far as a file system can promise that.

use std::fs;
use std::path::{Path, PathBuf};

use super::{Failure, Report};
use crate::whole::{self, Whole};

/// The names of the files, in the order of [`Saved`].
pub const FILES: [&str; 5] =
    ["report.html", "chart.svg", "chart.png", "trace.csv", "verdict.json"];

/// Where the files of a report are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saved {
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
}

/// Writes the files of a report into `dir`, which is made if need be, with the chart as pixels if
/// `png` says so. Files of these names that are there already are replaced; pixels that were not
/// asked for are taken away, as they would show another rehearsal.
pub fn save(dir: &Path, report: &Report<'_>, png: bool) -> Result<Saved, Failure> {
    let mut trace = Vec::new();
    report.csv(&mut trace)?;
    let contents = [
        Some(report.html()?.into_bytes()),
        Some(report.svg().into_bytes()),
        png.then(|| report.png()).transpose()?,
        Some(trace),
        Some(report.json()?.into_bytes()),
    ];
    try_folder(dir)?;
    let paths = paths(dir);
    let mut whole = Vec::new();
    for (path, content) in paths.iter().zip(&contents) {
        if let Some(content) = content {
            whole.push(Whole::beside(path, content)?);
        }
    }
    for file in whole {
        file.put(true)?;
    }
    let [html, svg, pixels, csv, json] = paths;
    if !png {
        whole::remove(&pixels)?;
    }
    Ok(Saved { html, svg, png: png.then_some(pixels), csv, json })
}

/// Makes the folder of a report if need be, and makes sure that it takes the files.
pub fn try_folder(dir: &Path) -> Result<(), Failure> {
    fs::create_dir_all(dir).map_err(|error| {
        let why = whole::words(&error);
        Failure::Folder { path: dir.to_owned(), why }
    })?;
    Ok(whole::try_folder(dir, &paths(dir))?)
}

fn paths(dir: &Path) -> [PathBuf; 5] {
    FILES.map(|name| dir.join(name))
}
