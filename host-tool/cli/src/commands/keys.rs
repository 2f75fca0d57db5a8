//! `keys` and `set`: what may stand in a file, and putting it there.

use std::path::Path;
use std::sync::Arc;

use saggar_files::whole::Whole;
use saggar_files::{Error, Finding, Source, nearest, shown};
use saggar_schedule::compiled;
use saggar_schedule::document::{Key, KeyPath, new_findings, sections, typed};
use saggar_schedule::firing::Firing;
use saggar_schedule::keys::FileKind;
use saggar_schedule::profile::Profile;

/// Sections with their paths; that of the file itself is empty.
pub type Sections = Vec<(String, &'static [Key])>;

/// The sections of a file, or the one of this path.
///
/// # Errors
/// There is no such section.
pub fn keys(file: FileKind, section: Option<&str>) -> Result<Sections, Error> {
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
    let name = match file {
        FileKind::Schedule => "a schedule",
        FileKind::Profile => "a furnace profile",
    };
    let message = format!("there is no section `{}` in it", shown(wanted, 40));
    Err(Finding::on_file(name, message, help).into())
}

/// A key that was set, and its value, as typed.
pub type KeyChange = (KeyPath, String);

/// Sets keys in a schedule or a profile and leaves the rest of its text as it is.
///
/// # Errors
/// What is wrong with a key that is to be set, and what `check` would find wrong with the file then
/// and does not now; the file is as it was.
pub fn set(path: &Path, changes: &[KeyChange]) -> Result<(), Error> {
    let before = Arc::new(compiled::source(path)?);
    let file = FileKind::of(before.text());
    let written = |(path, text): &KeyChange| (path.clone(), typed(path.key(file.keys()), text));
    let changes: Vec<_> = changes.iter().map(written).collect();
    let after = file.set(&before, &changes).map_err(Error::Input)?;
    let findings = |source| (source, wrong(file, source, path));
    let new = new_findings(findings(&before), findings(&after), &changes);
    if !new.is_empty() {
        return Err(Error::Input(new));
    }
    Whole::like_the_old(path, after.text().as_bytes())?.put_over(before.text().as_bytes())?;
    Ok(())
}

/// All that is wrong with a file.
fn wrong(file: FileKind, source: &Arc<Source>, path: &Path) -> Vec<Finding> {
    match file {
        FileKind::Schedule => match Firing::from_source(source, path.parent(), None) {
            Ok(_) => Vec::new(),
            Err(error) => error.findings().to_vec(),
        },
        FileKind::Profile => Profile::from_source(source).err().unwrap_or_default(),
    }
}
