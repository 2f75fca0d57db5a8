//! Writes a file in one go, or not at all.
//!
//! A file is written under a temporary name in the same folder and renamed when all of it is on the
//! disk, so that a reader finds the old file or the new one, never a part. An interrupted run leaves
//! its temporary file behind; a later run into the same folder removes it.
//!
//! Only a plain file is ever replaced. Renaming over a device, a pipe or a link would remove the device,
//! or leave the target of the link unchanged without a word.

use std::fs::{self, TryLockError};
use std::io::{self, ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use tempfile::NamedTempFile;

use crate::plain_file::{self, ReadError};
use crate::sanitized;

/// Prefix and suffix of temporary files.
const PREFIX: &str = ".saggar-";
const SUFFIX: &str = ".part";

/// A temporary file of this age was left by an interrupted run: writing takes seconds.
const STALE_AGE: Duration = Duration::from_secs(600);

/// Why a file was not written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{} cannot be written: {why}", sanitized(&path.display().to_string(), 200))]
pub struct WriteError {
    /// The file.
    pub path: PathBuf,
    /// The cause, and what to do about it.
    pub why: String,
    /// The file exists and was not to be replaced.
    pub exists: bool,
}

impl WriteError {
    /// An error with this cause.
    pub fn new(path: &Path, why: impl Into<String>) -> Self {
        Self { path: path.to_path_buf(), why: why.into(), exists: false }
    }

    fn from_io(path: &Path, error: &io::Error) -> Self {
        let exists = error.kind() == ErrorKind::AlreadyExists;
        Self { path: path.to_path_buf(), why: describe_io_error(error), exists }
    }
}

/// A complete file that still has its temporary name.
#[derive(Debug)]
pub struct AtomicFile {
    path: PathBuf,
    file: NamedTempFile,
}

impl AtomicFile {
    /// Writes `bytes` to a temporary file beside `path`.
    ///
    /// # Errors
    /// `path` cannot be replaced, or writing fails.
    pub fn create(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        Self::create_with(path, bytes, &public_builder())
    }

    /// As [`Self::create`], readable by its owner only.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn create_private(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        let mut builder = tempfile::Builder::new();
        // By default a temporary file is readable by its owner only.
        builder.prefix(PREFIX).suffix(SUFFIX);
        Self::create_with(path, bytes, &builder)
    }

    /// As [`Self::create`], with the permissions of the existing file at `path`.
    ///
    /// # Errors
    /// As [`Self::create`], or the existing file may not be written.
    pub fn create_replacement(path: &Path, bytes: &[u8]) -> Result<Self, WriteError> {
        ensure_replaceable(path)?;
        let system = |error: io::Error| WriteError::from_io(path, &error);
        let permissions = fs::metadata(path).map_err(system)?.permissions();
        // An administrator could write a read-only file, so check for it.
        if permissions.readonly() {
            return Err(WriteError::new(path, "it is read-only: make it writable first"));
        }
        open_in_place(path, fs::OpenOptions::new().write(true))?;
        // Private until it has the permissions of the old file.
        let replacement = Self::create_private(path, bytes)?;
        replacement.file.as_file().set_permissions(permissions).map_err(system)?;
        Ok(replacement)
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

    /// Replaces the file at `path`, provided that it still contains `old`.
    ///
    /// # Errors
    /// The file was changed meanwhile, or cannot be replaced.
    pub fn commit_if_unchanged(self, old: &[u8]) -> Result<(), WriteError> {
        let open = || open_in_place(&self.path, fs::OpenOptions::new().write(true));
        // Of two concurrent runs that read the same content, the lock lets only one replace it.
        // Elsewhere than on Unix an open file cannot be replaced, so it is not locked there.
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

    /// Renames the file to `path`, over an existing file only if `replace` is set.
    ///
    /// # Errors
    /// Something else has this name, or renaming fails.
    pub fn commit(self, replace: bool) -> Result<(), WriteError> {
        let Self { path, file } = self;
        // Check again: writing took time.
        ensure_replaceable(&path)?;
        let put = if replace { file.persist(&path) } else { file.persist_noclobber(&path) };
        put.map_err(|error| WriteError::from_io(&path, &error.error))?;
        sync_folder(&parent_folder(&path));
        Ok(())
    }
}

/// The folder that contains a file.
pub fn parent_folder(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        Some(_) | None => PathBuf::from("."),
    }
}

/// Checks that the path names a plain file or nothing.
///
/// # Errors
/// A folder, a link, a pipe or a device has this name.
pub fn ensure_replaceable(path: &Path) -> Result<(), WriteError> {
    // Without metadata there is no file, or writing gives the better error.
    let Ok(metadata) = fs::symlink_metadata(path) else { return Ok(()) };
    let kind = metadata.file_type();
    if kind.is_file() {
        return Ok(());
    }
    if kind.is_dir() {
        return Err(WriteError::new(path, "a folder has this name: move the folder"));
    }
    let is = if kind.is_symlink() {
        let to = fs::read_link(path).unwrap_or_default();
        format!("a link to {}", sanitized(&to.display().to_string(), 200))
    } else {
        "a pipe or a device".to_owned()
    };
    let why =
        format!("it is {is}, and only plain files are replaced: move it, or name another");
    Err(WriteError::new(path, why))
}

/// Opens a plain file for writing in place, or creates it, as the options say.
///
/// # Errors
/// It is not a plain file, or the system returns an error.
pub fn open_in_place(
    path: &Path,
    options: &mut fs::OpenOptions,
) -> Result<fs::File, WriteError> {
    plain_file::open_with(path, options).map_err(|fault| match fault {
        ReadError::Folder => WriteError::new(path, "a folder has this name: move the folder"),
        ReadError::Special => {
            WriteError::new(path, "it is a pipe or a device: name a plain file")
        }
        ReadError::Refused(error) => WriteError::from_io(path, &error),
        ReadError::Missing | ReadError::TooLarge(_) => {
            WriteError::from_io(path, &ErrorKind::NotFound.into())
        }
    })
}

/// Appends to a plain file, which is created if it does not exist.
///
/// # Errors
/// The file cannot be opened or written.
pub fn append(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    let mut file = open_in_place(path, fs::OpenOptions::new().append(true).create(true))?;
    file.write_all(bytes).map_err(|error| WriteError::from_io(path, &error))
}

/// Removes what an interrupted run left in a folder, and checks that files of these names can be written
/// there.
///
/// # Errors
/// The folder is not writable, or something other than a plain file has one of the names.
pub fn prepare_folder(folder: &Path, names: &[PathBuf]) -> Result<(), WriteError> {
    remove_stale(folder);
    names.iter().try_for_each(|path| ensure_replaceable(path))?;
    let tried = public_builder().tempfile_in(folder).and_then(|mut file| file.write_all(b"?"));
    tried.map_err(|error| {
        WriteError::from_io(names.first().map_or(folder, PathBuf::as_path), &error)
    })
}

/// Removes a file if it exists.
///
/// # Errors
/// It cannot be removed.
pub fn remove(path: &Path) -> Result<(), WriteError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            Err(WriteError::from_io(path, &error))
        }
        Ok(()) | Err(_) => Ok(()),
    }
}

/// Removes old temporary files. Those that cannot be removed do no harm.
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
            data.is_file() && age.is_some_and(|age| age > STALE_AGE)
        };
        if ours && entry.metadata().is_ok_and(|data| stale(&data)) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// An error of the system in words, and what to do about it.
#[expect(clippy::wildcard_enum_match_arm, reason = "the library's list is open")]
pub fn describe_io_error(error: &io::Error) -> String {
    let known = match error.kind() {
        ErrorKind::NotFound => "its folder does not exist: make it first",
        ErrorKind::PermissionDenied => {
            "you have no permission to write there: name another folder, or ask for permission"
        }
        ErrorKind::ReadOnlyFilesystem => "that disk is read-only: name another folder",
        ErrorKind::StorageFull => "the disk is full: delete something, or name another folder",
        ErrorKind::QuotaExceeded => {
            "your disk quota is used up: delete something, or name another folder"
        }
        ErrorKind::FileTooLarge => {
            "the system allows no file of this size: raise the limit, or name another folder"
        }
        ErrorKind::NotADirectory | ErrorKind::AlreadyExists => {
            "a file has the name of the folder: move the file, or name another folder"
        }
        ErrorKind::IsADirectory => "a folder has this name: move the folder",
        ErrorKind::InvalidFilename => "its name is too long for this disk: name another",
        // For any other kind the library's own name, without an error number.
        other => return other.to_string(),
    };
    known.to_owned()
}

/// Temporary files with the permissions of an ordinary new file. By default only their owner could read
/// them.
fn public_builder() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder
}

/// Flushes a folder, so that a rename survives a power cut. Not every system can; the file itself is
/// complete in any case.
pub fn sync_folder(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_old_temporary_files_are_removed() {
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
    fn a_pipe_that_appears_while_writing_is_not_replaced() {
        use std::os::unix::fs::FileTypeExt as _;
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("it");
        for replace in [true, false] {
            let file = AtomicFile::create(&path, b"new").expect("written");
            nix::unistd::mkfifo(&path, nix::sys::stat::Mode::S_IRWXU).expect("made");
            let message = file.commit(replace).expect_err("a pipe").to_string();
            assert!(
                message.contains("it is a pipe or a device, and only plain files"),
                "{message}"
            );
            assert!(fs::symlink_metadata(&path).expect("there").file_type().is_fifo());
            fs::remove_file(&path).expect("removed");
        }
        assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 0);
    }

    #[test]
    fn a_file_that_changed_since_it_was_read_is_not_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("it");
        for now in [&b"other"[..], b"old and more", b"ol", b""] {
            fs::write(&path, "old").expect("written");
            let file = AtomicFile::create_replacement(&path, b"new").expect("written");
            fs::write(&path, now).expect("written");
            let message = file.commit_if_unchanged(b"old").expect_err("changed").to_string();
            assert!(message.ends_with("it was changed meanwhile: try again"), "{message}");
            assert_eq!(fs::read(&path).expect("reads"), now);
        }
        fs::write(&path, "old").expect("written");
        let replacement = || AtomicFile::create_replacement(&path, b"new").expect("written");
        if cfg!(unix) {
            // Another run has locked the file and is about to replace it.
            let other = fs::File::open(&path).expect("opens");
            other.lock().expect("locked");
            let message =
                replacement().commit_if_unchanged(b"old").expect_err("locked").to_string();
            assert!(message.ends_with("it was changed meanwhile: try again"), "{message}");
        }
        replacement().commit_if_unchanged(b"old").expect("put");
        assert_eq!(fs::read(&path).expect("reads"), b"new");
        assert_eq!(fs::read_dir(folder.path()).expect("lists").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn append_refuses_everything_but_plain_files() {
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
            let message = append(&path(name), b"x").expect_err(name).to_string();
            assert!(message.contains(why), "{message}");
        }
    }

    #[test]
    fn messages_show_no_error_numbers_and_no_temporary_names() {
        for raw in [2, 13, 17, 20, 27, 28, 30, 36] {
            let message = describe_io_error(&io::Error::from_raw_os_error(raw));
            assert!(!message.contains("os error") && !message.is_empty(), "{message}");
        }
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("nowhere").join("a.txt");
        let message = AtomicFile::create(&path, b"x").expect_err("no folder").to_string();
        assert!(message.ends_with("its folder does not exist: make it first"), "{message}");
        assert!(!message.contains(PREFIX), "{message}");
    }
}
