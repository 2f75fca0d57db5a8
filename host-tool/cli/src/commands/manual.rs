//! `man`: the manual pages as files.

use std::path::{Path, PathBuf};

use crate::error::CliError;
use saggar_files::atomic_file::{self, AtomicFile};

/// A manual page.
#[derive(Debug)]
pub struct ManualPage {
    /// Name of its file: saggar-check.1.
    pub file: String,
    /// The page.
    pub text: Vec<u8>,
}

/// Writes one page for each command into a folder, in the place of older ones.
///
/// # Errors
/// A file cannot be written.
pub fn write_manual(pages: &[ManualPage], folder: &Path) -> Result<Vec<PathBuf>, CliError> {
    atomic_file::remove_stale(folder);
    let mut files = Vec::new();
    for page in pages {
        let file = folder.join(&page.file);
        AtomicFile::create(&file, &page.text)?.commit(true)?;
        files.push(file);
    }
    Ok(files)
}
