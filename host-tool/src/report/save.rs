//! Puts a report into a folder.
//!
//! Everything is made before anything is written, each file is written beside its place under
//! another name, and only when all are whole do they take their names: who looks into the
//! folder sees each file as it was or as it is, never a half.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::{Failure, Report};

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
    /// The chart as pixels.
    pub png: PathBuf,
    /// The trace.
    pub csv: PathBuf,
    /// The verdict for programs.
    pub json: PathBuf,
}

/// Writes all files of a report into `dir`, which is made if need be. Files of these names that
/// are there already are replaced.
pub fn save(dir: &Path, report: &Report<'_>) -> Result<Saved, Failure> {
    let mut trace = Vec::new();
    report.csv(&mut trace)?;
    let contents = [
        report.html()?.into_bytes(),
        report.svg().into_bytes(),
        report.png()?,
        trace,
        report.json()?.into_bytes(),
    ];
    fs::create_dir_all(dir)
        .map_err(|source| Failure::Folder { path: dir.to_owned(), source })?;
    let paths = FILES.map(|name| dir.join(name));
    let mut whole = Vec::new();
    for (path, content) in paths.iter().zip(&contents) {
        whole.push((path, beside(dir, path, content)?));
    }
    for (path, file) in whole {
        let kept = file.persist(path);
        kept.map_err(|error| Failure::File { path: path.clone(), source: error.error })?;
    }
    let [html, svg, png, csv, json] = paths;
    Ok(Saved { html, svg, png, csv, json })
}

/// A whole file in `dir` that has no name of its own yet.
fn beside(dir: &Path, path: &Path, content: &[u8]) -> Result<NamedTempFile, Failure> {
    let written = || {
        let mut file = readable().tempfile_in(dir)?;
        file.write_all(content)?;
        file.as_file().sync_all()?;
        Ok(file)
    };
    written().map_err(|source| Failure::File { path: path.to_owned(), source })
}

/// Files that others may read, as far as the user's mask allows: a temporary file is otherwise
/// for its owner's eyes only.
#[cfg(unix)]
fn readable() -> tempfile::Builder<'static, 'static> {
    use std::os::unix::fs::PermissionsExt;
    let mut builder = tempfile::Builder::new();
    builder.permissions(fs::Permissions::from_mode(0o666));
    builder
}

#[cfg(not(unix))]
fn readable() -> tempfile::Builder<'static, 'static> {
    tempfile::Builder::new()
}
