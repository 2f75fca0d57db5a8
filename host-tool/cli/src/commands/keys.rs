//! `keys` and `set`: list the keys of a file, and change their values.

use std::path::Path;
use std::sync::Arc;

use saggar_files::atomic_file::AtomicFile;
use saggar_files::{Diagnostic, FilesError, SourceText, nearest, sanitized};
use saggar_schedule::document::{KeyPath, KeySpec, new_diagnostics, parse_typed, sections};
use saggar_schedule::fault_list;
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::keys::FileKind;
use saggar_schedule::profile::Profile;
use saggar_schedule::text_file;

/// Sections with their paths; the path of the top level is empty.
pub type Sections = Vec<(String, &'static [KeySpec])>;

/// The sections of a file, or the one of this path.
///
/// # Errors
/// There is no such section.
pub fn keys(file: FileKind, section: Option<&str>) -> Result<Sections, FilesError> {
    let all = sections(file.keys());
    let Some(wanted) = section else { return Ok(all) };
    if let Some(found) = all.iter().find(|(path, _)| path == wanted) {
        return Ok(vec![found.clone()]);
    }
    let paths: Vec<&str> = all.iter().map(|(path, _)| path.as_str()).skip(1).collect();
    let meant = nearest(wanted, paths.iter().copied());
    let help = match meant {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("there are: {}", paths.join(", ")),
    };
    let message = format!("there is no section `{}` in it", sanitized(wanted, 40));
    Err(Diagnostic::for_file(file.phrase(), message, help).into())
}

/// A key to set, and its value as typed.
pub type KeyChange = (KeyPath, String);

/// Sets keys in a file; the rest of its text stays unchanged.
///
/// # Errors
/// A key or value is invalid, or the change adds errors that `check` would report. The file is then
/// unchanged.
pub fn set(path: &Path, changes: &[KeyChange]) -> Result<(), FilesError> {
    let before = Arc::new(text_file::read_text(path)?);
    let file = FileKind::of(before.text());
    let written =
        |(path, text): &KeyChange| (path.clone(), parse_typed(path.key(file.keys()), text));
    let changes: Vec<_> = changes.iter().map(written).collect();
    let after = file.set(&before, &changes).map_err(FilesError::Invalid)?;
    let with_diagnostics = |source| (source, diagnostics(file, source, path));
    let new = new_diagnostics(with_diagnostics(&before), with_diagnostics(&after), &changes);
    if !new.is_empty() {
        return Err(FilesError::Invalid(new));
    }
    AtomicFile::create_replacement(path, after.text().as_bytes())?
        .commit_if_unchanged(before.text().as_bytes())?;
    Ok(())
}

/// The diagnostics that `check` reports for a file.
fn diagnostics(file: FileKind, source: &Arc<SourceText>, path: &Path) -> Vec<Diagnostic> {
    match file {
        FileKind::Schedule => match FiringPlan::from_source(source, path.parent(), None) {
            Ok(_) => Vec::new(),
            Err(error) => error.diagnostics().to_vec(),
        },
        FileKind::Profile => Profile::from_source(source).err().unwrap_or_default(),
        FileKind::Faults => fault_list::read_faults(source).err().unwrap_or_default(),
    }
}
