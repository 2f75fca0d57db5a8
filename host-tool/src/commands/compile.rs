//! `compile`: from a schedule to the bytes that a furnace runs.

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::Error;
use crate::document::shown;
use crate::firing::Firing;
use crate::schedule::Summary;

/// A programme that was written.
#[derive(Debug, Serialize)]
pub struct Compiled {
    /// Its file.
    pub file: String,
    /// The furnace that it was checked for.
    pub furnace: String,
    /// What it is.
    pub programme: Summary,
}

/// Compiles a schedule and writes the programme: all of it or nothing.
///
/// # Errors
/// Everything that is wrong with the schedule or its furnace; or why the file was not written.
pub fn compile(
    schedule: &Path,
    furnace: Option<&Path>,
    to: &Path,
    force: bool,
) -> Result<Compiled, Error> {
    let firing = Firing::load(schedule, furnace)?;
    let refuse = |why: &str| {
        let why = io::Error::other(why.to_owned());
        Err(Error::NotWritten { path: to.to_path_buf(), why })
    };
    if to.is_dir() {
        return refuse("it is a folder");
    }
    if same_file(schedule, to) {
        return refuse("it is the schedule itself");
    }
    write_whole(to, firing.image.bytes(), force)?;
    Ok(Compiled {
        file: shown(&to.display().to_string(), 200),
        furnace: firing.profile.name,
        programme: firing.summary,
    })
}

/// Writes a file so that a reader finds the old one or the new one, whatever happens: under
/// another name first, flushed to the disk, then renamed.
fn write_whole(to: &Path, bytes: &[u8], force: bool) -> Result<(), Error> {
    let folder = match to.parent() {
        Some(parent) if parent.as_os_str().is_empty() => PathBuf::from("."),
        Some(parent) => parent.to_path_buf(),
        None => PathBuf::from("."),
    };
    if !folder.is_dir() {
        let why = io::Error::other("its folder does not exist");
        return Err(Error::NotWritten { path: to.to_path_buf(), why });
    }
    let failed = |why: io::Error| {
        let path = to.to_path_buf();
        if why.kind() == io::ErrorKind::AlreadyExists {
            Error::Exists(path)
        } else {
            Error::NotWritten { path, why }
        }
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".saggar-");
    // A programme is no secret: who may read it is for the user's mask to say.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(&folder).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    let persisted = if force { file.persist(to) } else { file.persist_noclobber(to) };
    persisted.map_err(|error| failed(error.error))?;
    sync_folder(&folder);
    Ok(())
}

fn same_file(one: &Path, other: &Path) -> bool {
    let real = |path: &Path| path.canonicalize().ok();
    real(one).is_some_and(|one| real(other) == Some(one))
}

/// Makes the new name last through a power cut. Not every system lets a folder be flushed; the
/// file itself is whole in any case.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = std::fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}
