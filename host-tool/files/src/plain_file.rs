//! Opens plain files and refuses everything else that a path can name.
//!
//! A pipe would keep a reader waiting for a writer, and a device may never end. The type is checked on
//! the open file, because the path may name something else a moment later.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read as _};
use std::path::Path;

use crate::Diagnostic;

/// `ELOOP`, too many levels of symbolic links: the standard library has no stable name for it.
const LINKS_IN_A_CIRCLE: i32 = if cfg!(target_os = "linux") { 40 } else { 62 };

/// Why a file could not be read.
#[derive(Debug)]
pub enum ReadError {
    /// There is no such file.
    Missing,
    /// It is a folder.
    Folder,
    /// It is a pipe, a socket or a device.
    Special,
    /// It is larger than the cap (bytes).
    TooLarge(usize),
    /// The system returned an error.
    Refused(io::Error),
}

impl ReadError {
    /// The error as a diagnostic for this file.
    pub fn diagnostic(&self, path: impl AsRef<Path>) -> Diagnostic {
        let on = |message: &str, help: &str| Diagnostic::for_file(path, message, help);
        match self {
            Self::Missing => {
                on("there is no such file", "check the spelling, and the folder you are in")
            }
            Self::Folder => on("this is a folder, not a file", "name a file in it"),
            Self::Special => on(
                "this is a pipe or a device, not a file",
                "save it as a file first: it is read more than once",
            ),
            Self::TooLarge(cap) => on(
                &format!("the file is larger than {} KiB", cap / 1024),
                "schedules and profiles are a page or two of text: check that this is the right file",
            ),
            Self::Refused(why) if why.raw_os_error() == Some(LINKS_IN_A_CIRCLE) => {
                on("this link leads back to itself", "name the file that it should lead to")
            }
            Self::Refused(why) if why.kind() == ErrorKind::PermissionDenied => on(
                "you have no permission to read it",
                "ask its owner for permission, or for a copy",
            ),
            Self::Refused(why) if why.kind() == ErrorKind::NotADirectory => on(
                "a part of its path is a file, not a folder",
                "check the spelling of the path",
            ),
            Self::Refused(why) => on(
                &format!("it cannot be read: {}", why.kind()),
                "check the disk and the file's permissions",
            ),
        }
    }
}

impl From<io::Error> for ReadError {
    fn from(error: io::Error) -> Self {
        if error.kind() == ErrorKind::NotFound { Self::Missing } else { Self::Refused(error) }
    }
}

/// Opens a plain file for reading.
pub fn open(path: &Path) -> Result<File, ReadError> {
    open_with(path, OpenOptions::new().read(true))
}

/// Opens a plain file in another way, or makes it, as the options say.
pub fn open_with(path: &Path, options: &mut OpenOptions) -> Result<File, ReadError> {
    // Opening a device may act on it: a serial port resets its board, a tape rewinds. So check the
    // path first. If there is no metadata, opening gives the better error.
    if let Ok(metadata) = fs::metadata(path) {
        ensure_plain(&metadata)?;
    }
    open_nonblocking(path, options)
}

/// Opens the path without blocking, then keeps it only if it is a plain file.
fn open_nonblocking(path: &Path, options: &mut OpenOptions) -> Result<File, ReadError> {
    // Neither flag changes anything about a plain file.
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::custom_flags(options, libc::O_NONBLOCK | libc::O_NOCTTY);
    let file = options.open(path)?;
    ensure_plain(&file.metadata()?)?;
    Ok(file)
}

fn ensure_plain(metadata: &Metadata) -> Result<(), ReadError> {
    match metadata {
        folder if folder.is_dir() => Err(ReadError::Folder),
        file if file.is_file() => Ok(()),
        _ => Err(ReadError::Special),
    }
}

/// Reads a plain file of at most `cap` bytes. The size in its metadata is not trusted.
pub fn read_bytes(path: &Path, cap: usize) -> Result<Vec<u8>, ReadError> {
    let mut bytes = Vec::new();
    let limit = u64::try_from(cap).unwrap_or(u64::MAX).saturating_add(1);
    open(path)?.take(limit).read_to_end(&mut bytes)?;
    if bytes.len() > cap {
        return Err(ReadError::TooLarge(cap));
    }
    Ok(bytes)
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::symlink;

    use nix::sys::stat::Mode;

    use super::*;

    #[test]
    fn a_pipe_or_device_that_replaces_the_file_after_the_check_is_refused_without_blocking() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = |name: &str| folder.path().join(name);
        nix::unistd::mkfifo(&path("pipe"), Mode::S_IRWXU).expect("made");
        symlink("pipe", path("link")).expect("made");
        symlink("/dev/zero", path("zero")).expect("made");
        let read = |name: &str| open_nonblocking(&path(name), OpenOptions::new().read(true));
        let append =
            |name: &str| open_nonblocking(&path(name), OpenOptions::new().append(true));
        for name in ["pipe", "link", "zero"] {
            assert!(matches!(read(name), Err(ReadError::Special)), "{name}");
            // The pipe has no reader, so the system itself returns an error.
            let refused = append(name);
            assert!(
                matches!(refused, Err(ReadError::Special | ReadError::Refused(_))),
                "{name}"
            );
        }
        assert!(matches!(read("."), Err(ReadError::Folder)));
        assert!(matches!(read("none"), Err(ReadError::Missing)));
    }

    #[test]
    fn a_plain_file_is_read_up_to_the_cap_and_created_on_request() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("file");
        assert!(matches!(read_bytes(&path, 9), Err(ReadError::Missing)));
        open_with(&path, OpenOptions::new().append(true).create(true)).expect("made");
        fs::write(&path, "123456789").expect("written");
        symlink("file", folder.path().join("link")).expect("made");
        assert_eq!(read_bytes(&folder.path().join("link"), 9).expect("read"), b"123456789");
        assert!(matches!(read_bytes(&path, 8), Err(ReadError::TooLarge(8))));
        File::create(&path).and_then(|file| file.set_len(1 << 40)).expect("holes");
        assert!(matches!(read_bytes(&path, 8), Err(ReadError::TooLarge(8))));
    }
}
