//! Plain files, and nothing else that may stand under a file's name.
//!
//! A pipe would keep a reader waiting for a writer, and a device may never end. What it is is asked
//! of the open file and not of its name, under which something else may stand a moment later.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read as _};
use std::path::Path;

use crate::Diagnostic;

/// What the system calls links that lead in a circle (`ELOOP`); the library has no stable name
/// for it.
const LINKS_IN_A_CIRCLE: i32 = if cfg!(target_os = "linux") { 40 } else { 62 };

/// Why the bytes of a file cannot be had.
#[derive(Debug)]
pub enum ReadError {
    /// Nothing has this name.
    Missing,
    /// It is a folder.
    Folder,
    /// It is a pipe, a socket or a device.
    Special,
    /// It is larger than the cap (bytes).
    TooLarge(usize),
    /// The system refuses.
    Refused(io::Error),
}

impl ReadError {
    /// The fault as a finding on this file.
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
                "a file of this kind is a page or two of text: check that it is the right one",
            ),
            Self::Refused(why) if why.raw_os_error() == Some(LINKS_IN_A_CIRCLE) => on(
                "this is a link that leads back to itself",
                "name the file that it should lead to",
            ),
            Self::Refused(why) if why.kind() == ErrorKind::PermissionDenied => {
                on("you may not read it", "ask its owner for the right to, or copy it")
            }
            Self::Refused(why) => on(
                &format!("it cannot be read: {}", why.kind()),
                "check the disk, and who may read it",
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
    // A device may act on being opened: a serial port resets its board, a tape rewinds. What
    // openly is one is left alone. Why there is no metadata, opening says better.
    if let Ok(metadata) = fs::metadata(path) {
        ensure_plain(&metadata)?;
    }
    open_nonblocking(path, options)
}

/// Opens whatever stands there without waiting for anybody, and keeps only a plain file.
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

/// The bytes of a plain file, never more than `cap`, whatever its metadata say.
pub fn read_bytes(path: &Path, cap: usize) -> Result<Vec<u8>, ReadError> {
    let mut bytes = Vec::new();
    let room = u64::try_from(cap).unwrap_or(u64::MAX).saturating_add(1);
    open(path)?.take(room).read_to_end(&mut bytes)?;
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
    fn what_took_the_place_of_a_file_after_the_first_look_is_not_waited_for() {
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
            // Nobody reads the pipe: the system says no by itself.
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
    fn a_plain_file_is_read_up_to_the_cap_and_made_where_asked() {
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
