//! Files that are written whole or not at all.
//!
//! A file is written beside its place under another name, and takes its own name only when all
//! of it is on the disk: who looks finds the old file or the new one, never a half. A run that
//! is stopped in between leaves its file of the other name behind; the next one into the same
//! folder takes it away.
//!
//! Only a plain file is ever replaced. A rename would put one where a device, a pipe or a link was:
//! the device would be gone, and what the link leads to would stay as it was, unseen.

use std::fs::{self, TryLockError};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use tempfile::NamedTempFile;

use crate::plain_file::{self, ReadError};
use crate::sanitized;

/// What the names of unfinished files begin and end with.
const PREFIX: &str = ".saggar-";
const SUFFIX: &str = ".part";

/// An unfinished file of this age belongs to nobody any more: writing takes seconds.
const STALE: Duration = Duration::from_secs(600);

/// Why a file was not written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{} cannot be written: {why}", sanitized(&path.display().to_string(), 200))]
pub struct WriteError {
    /// The file.
    pub path: PathBuf,
    /// Why, in words that say what to do.
    pub why: String,
    /// There is such a file, and it was not to be replaced.
    pub exists: bool,
}

impl WriteError {
    /// For a reason that is no fault of the system.
    pub fn new(path: &Path, why: impl Into<String>) -> Self {
        Self { path: path.to_path_buf(), why: why.into(), exists: false }
    }

    fn from_io(path: &Path, error: &io::Error) -> Self {
        let exists = error.kind() == ErrorKind::AlreadyExists;
        Self { path: path.to_path_buf(), why: describe_io_error(error), exists }
    }
}

/// A file that is all there and has not taken its name yet.
#[derive(Debug)]
pub struct AtomicFile {
    path: PathBuf,
    file: NamedTempFile,
}

impl AtomicFile {
    /// Writes `bytes` beside the place that they are for.
    ///
    /// # Errors
    /// Why they are not on the disk.
    pub fn create(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        Self::create_with(path, bytes, &public_builder())
    }

    /// As [`Self::beside`], for nobody's eyes but the owner's.
    ///
    /// # Errors
    /// Why they are not on the disk.
    pub fn create_private(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        let mut builder = tempfile::Builder::new();
        // Without a mode of its own a temporary file is the owner's alone.
        builder.prefix(PREFIX).suffix(SUFFIX);
        Self::create_with(path, bytes, &builder)
    }

    /// As [`Self::beside`], with the mode of the file that it is to take the place of.
    ///
    /// # Errors
    /// Why they are not on the disk, or that file may not be written.
    pub fn create_replacement(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        ensure_replaceable(path)?;
        let system = |error: io::Error| WriteError::from_io(path, &error);
        let permissions = fs::metadata(path).map_err(system)?.permissions();
        // The system lets its administrator write even what is read-only.
        if permissions.readonly() {
            return Err(WriteError::new(path, "it is read-only: allow writing to it first"));
        }
        open_in_place(path, fs::OpenOptions::new().write(true))?;
        // Nobody may read it in between whom the old one did not let.
        let whole = Self::create_private(path, bytes)?;
        whole.file.as_file().set_permissions(permissions).map_err(system)?;
        Ok(whole)
    }

    fn create_with(
        path: &Path,
        bytes: &[u8],
        builder: &tempfile::Builder<'_, '_>,
    ) -> Result<Self, WriteError> {
        ensure_replaceable(path)?;
        let written = || {
            let mut file = builder.tempfile_in(parent_folder(path))?;
            file.write_all(bytes)?;
            file.as_file().sync_all()?;
            Ok(file)
        };
        let file = written().map_err(|error: io::Error| WriteError::from_io(path, &error))?;
        Ok(Self { path: path.to_path_buf(), file })
    }

    /// Gives the file its name in the place of one that says `old`.
    ///
    /// # Errors
    /// Why it has not got it; the other file says something else by now.
    pub fn commit_if_unchanged(self, old: &[u8]) -> Result<(), WriteError> {
        let open = || open_in_place(&self.path, fs::OpenOptions::new().write(true));
        // Of two runs at once only one gets past here with what they both read. Where this is
        // not Unix, a file that is open cannot be replaced.
        let held = cfg!(unix).then(open).transpose()?;
        let locked = held.as_ref().map(fs::File::try_lock);
        let is_taken = matches!(locked, Some(Err(TryLockError::WouldBlock)));
        let now = plain_file::read_bytes(&self.path, old.len());
        if is_taken || !now.is_ok_and(|now| now == old) {
            let why = "it was changed meanwhile: try again";
            return Err(WriteError::new(&self.path, why));
        }
        self.commit(true)
    }

    /// Gives the file its name, in the place of another one if `replace` says so.
    ///
    /// # Errors
    /// Why it has not got it.
    pub fn commit(self, replace: bool) -> Result<(), WriteError> {
        let Self { path, file } = self;
        // Once more: writing took its time.
        ensure_replaceable(&path)?;
        let put = if replace { file.persist(&path) } else { file.persist_noclobber(&path) };
        put.map_err(|error| WriteError::from_io(&path, &error.error))?;
        sync_folder(&parent_folder(&path));
        Ok(())
    }
}

/// The folder of a file.
pub fn parent_folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        Some(_) | None => PathBuf::from("."),
    }
}

/// Makes sure that nothing has this name, or a plain file.
///
/// # Errors
/// What has it.
pub fn ensure_replaceable(path: &Path) -> Result<(), WriteError> {
    // Without metadata there is nothing, or writing says better why not.
    let Ok(metadata) = fs::symlink_metadata(path) else { return Ok(()) };
    let kind = metadata.file_type();
    if kind.is_file() {
        return Ok(());
    }
    if kind.is_dir() {
        return Err(WriteError::new(path, "a folder has this name: move it away"));
    }
    let is = if kind.is_symlink() {
        let to = fs::read_link(path).unwrap_or_default();
        format!("a link to {}", sanitized(&to.display().to_string(), 200))
    } else {
        "a pipe or a device".to_owned()
    };
    let why =
        format!("it is {is}, and only plain files are replaced: move it away, or name another");
    Err(WriteError::new(path, why))
}

/// Opens a plain file to be written in place, or makes it, as the options say.
///
/// # Errors
/// Why it is not open.
pub fn open_in_place(
    path: &Path,
    options: &mut fs::OpenOptions,
) -> Result<fs::File, WriteError> {
    plain_file::open_with(path, options).map_err(|fault| match fault {
        ReadError::Folder => WriteError::new(path, "a folder has this name: move it away"),
        ReadError::Special => {
            WriteError::new(path, "it is a pipe or a device: name a plain file")
        }
        ReadError::Refused(error) => WriteError::from_io(path, &error),
        ReadError::Missing | ReadError::TooLarge(_) => {
            WriteError::from_io(path, &ErrorKind::NotFound.into())
        }
    })
}

/// Adds bytes to the end of a plain file, which is made if there is none.
///
/// # Errors
/// Why they are not there.
pub fn append(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    let mut file = open_in_place(path, fs::OpenOptions::new().append(true).create(true))?;
    file.write_all(bytes).map_err(|error| WriteError::from_io(path, &error))
}

/// Makes sure that files can be put under these names: their folder takes files, and nothing but
/// a plain file has one of the names. Takes away what a run that was stopped left there.
///
/// # Errors
/// The first name that cannot be had.
pub fn prepare_folder(folder: &Path, names: &[PathBuf]) -> Result<(), WriteError> {
    remove_stale(folder);
    names.iter().try_for_each(|path| ensure_replaceable(path))?;
    let tried = public_builder().tempfile_in(folder).and_then(|mut file| file.write_all(b"?"));
    tried.map_err(|error| {
        WriteError::from_io(names.first().map_or(folder, PathBuf::as_path), &error)
    })
}

/// Takes a file away, if it is there.
///
/// # Errors
/// It is still there.
pub fn remove(path: &Path) -> Result<(), WriteError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            Err(WriteError::from_io(path, &error))
        }
        Ok(()) | Err(_) => Ok(()),
    }
}

/// Takes away unfinished files that are old. What cannot be taken away does no harm.
pub fn remove_stale(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let now = SystemTime::now();
    for entry in entries.flatten() {
        let name = entry.file_name();
        let ours = name
            .to_str()
            .is_some_and(|name| name.starts_with(PREFIX) && name.ends_with(SUFFIX));
        let stale = |data: &fs::Metadata| {
            let age = data.modified().ok().and_then(|at| now.duration_since(at).ok());
            data.is_file() && age.is_some_and(|age| age > STALE)
        };
        if ours && entry.metadata().is_ok_and(|data| stale(&data)) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// What the system says, and what to do about it.
#[expect(clippy::wildcard_enum_match_arm, reason = "the library's list is open")]
pub fn describe_io_error(error: &io::Error) -> String {
    let known = match error.kind() {
        ErrorKind::NotFound => "its folder does not exist: make it first",
        ErrorKind::PermissionDenied => {
            "you may not write there: name another folder, or ask for the right to"
        }
        ErrorKind::ReadOnlyFilesystem => "that disk is read-only: name another folder",
        ErrorKind::StorageFull => "the disk is full: make room, or name another folder",
        ErrorKind::QuotaExceeded => {
            "your share of the disk is full: make room, or name another folder"
        }
        ErrorKind::FileTooLarge => {
            "the system allows no file of its size: raise the limit, or name another folder"
        }
        ErrorKind::NotADirectory | ErrorKind::AlreadyExists => {
            "a file has the name of the folder: move it away, or name another folder"
        }
        ErrorKind::IsADirectory => "a folder has this name: move it away",
        ErrorKind::InvalidFilename => "its name is too long for this disk: name another",
        // The list of the system is open: its own word for the kind, without a number.
        other => return other.to_string(),
    };
    known.to_owned()
}

/// Files that others may read, as far as the user's mask allows: a temporary file is otherwise
/// for its owner's eyes only.
fn public_builder() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder
}

/// Makes the new name last through a power cut. Not every system lets a folder be flushed; the
/// file itself is whole in any case.
pub fn sync_folder(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_stopped_run_left_goes_and_nothing_else() {
        let folder = tempfile::tempdir().expect("a folder");
        let make = |name: &str, age_s: u64| {
            let file = fs::File::create(folder.path().join(name)).expect("made");
            let at = SystemTime::now() - Duration::from_secs(age_s);
            file.set_modified(at).expect("dated");
        };
        make(".saggar-old.part", 3600);
        make(".saggar-new.part", 5);
        make(".saggar-notes", 3600);
        make("report.html", 3600);
        remove_stale(folder.path());
        let names = fs::read_dir(folder.path()).expect("lists").flatten();
        let mut names: Vec<_> = names.map(|entry| entry.file_name()).collect();
        names.sort();
        assert_eq!(names, [".saggar-new.part", ".saggar-notes", "report.html"]);
    }

    #[cfg(unix)]
    #[test]
    fn what_took_a_name_while_a_file_was_written_is_not_replaced() {
        use std::os::unix::fs::FileTypeExt as _;
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("it");
        for replace in [true, false] {
            let whole = AtomicFile::create(&path, b"new").expect("written");
            nix::unistd::mkfifo(&path, nix::sys::stat::Mode::S_IRWXU).expect("made");
            let said = whole.commit(replace).expect_err("a pipe").to_string();
            assert!(said.contains("it is a pipe or a device, and only plain files"), "{said}");
            assert!(fs::symlink_metadata(&path).expect("there").file_type().is_fifo());
            fs::remove_file(&path).expect("removed");
        }
        assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 0);
    }

    #[test]
    fn a_file_that_was_changed_meanwhile_is_not_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("it");
        for now in [&b"other"[..], b"old and more", b"ol", b""] {
            fs::write(&path, "old").expect("written");
            let whole = AtomicFile::create_replacement(&path, b"new").expect("written");
            fs::write(&path, now).expect("written");
            let said = whole.commit_if_unchanged(b"old").expect_err("changed").to_string();
            assert!(said.ends_with("it was changed meanwhile: try again"), "{said}");
            assert_eq!(fs::read(&path).expect("reads"), now);
        }
        fs::write(&path, "old").expect("written");
        let whole = || AtomicFile::create_replacement(&path, b"new").expect("written");
        if cfg!(unix) {
            // Somebody else is between reading it again and replacing it.
            let other = fs::File::open(&path).expect("opens");
            other.lock().expect("locked");
            let said = whole().commit_if_unchanged(b"old").expect_err("locked").to_string();
            assert!(said.ends_with("it was changed meanwhile: try again"), "{said}");
        }
        whole().commit_if_unchanged(b"old").expect("put");
        assert_eq!(fs::read(&path).expect("reads"), b"new");
        assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn nothing_is_added_to_what_is_no_plain_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str| folder.path().join(name);
        for text in [b"one", b"two"] {
            append(&path("log"), text).expect("added");
        }
        assert_eq!(fs::read(path("log")).expect("reads"), b"onetwo");
        nix::unistd::mkfifo(&path("pipe"), nix::sys::stat::Mode::S_IRWXU).expect("made");
        for (name, why) in [
            ("pipe", "it is a pipe or a device: name a plain file"),
            (".", "a folder has this name"),
            ("log/in", "a file has the name of the folder"),
            ("none/in", "its folder does not exist"),
        ] {
            let said = append(&path(name), b"x").expect_err(name).to_string();
            assert!(said.contains(why), "{said}");
        }
    }

    #[test]
    fn no_message_shows_a_number_or_another_name() {
        for raw in [2, 13, 17, 20, 27, 28, 30, 36] {
            let said = describe_io_error(&io::Error::from_raw_os_error(raw));
            assert!(!said.contains("os error") && !said.is_empty(), "{said}");
        }
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("nowhere").join("a.txt");
        let said = AtomicFile::create(&path, b"x").expect_err("no folder").to_string();
        assert!(said.ends_with("its folder does not exist: make it first"), "{said}");
        assert!(!said.contains(PREFIX), "{said}");
    }
}
