//! A set of files in a folder that always belong together.
//!
//! Everything is written under other names first. Then, one run at a time, the old files go, the
//! last one first, and the new ones take their names, the last one last. Whenever it is stopped,
//! what stands there is of one run, and the last file is there only if all the others are. Files of
//! other names are not touched.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::path::Path;
use std::time::{Duration, Instant};

use crate::atomic_file::{self, AtomicFile, WriteError, describe_io_error};

/// The file whose lock a run holds while it changes the folder. It stays: a lock on a file that
/// somebody takes away keeps nobody out.
const LOCK: &str = ".saggar-lock";

/// How long to wait for another run, which takes as long as a disk takes for a few small files.
const PATIENCE: Duration = Duration::from_secs(5);

/// Time between two tries.
const PAUSE: Duration = Duration::from_millis(20);

/// Replaces the set of `names` in a folder by `files`, each with a name of the set and in its
/// order. A name of the set without a file is not left from an earlier run.
///
/// # Errors
/// Why not. Until everything is written and the lock is held, nothing in the folder has changed.
pub fn replace(
    folder: &Path,
    names: &[&str],
    files: &[(&str, Vec<u8>)],
) -> Result<(), WriteError> {
    replace_within(PATIENCE, folder, names, files)
}

fn replace_within(
    patience: Duration,
    folder: &Path,
    names: &[&str],
    files: &[(&str, Vec<u8>)],
) -> Result<(), WriteError> {
    let mut written = Vec::new();
    for (name, bytes) in files {
        written.push(AtomicFile::create(&folder.join(name), bytes)?);
    }
    let _lock = lock(folder, patience)?;
    // Nothing goes if something cannot come.
    for name in names {
        atomic_file::ensure_replaceable(&folder.join(name))?;
    }
    for name in names.iter().rev() {
        atomic_file::remove(&folder.join(name))?;
    }
    atomic_file::sync_folder(folder);
    let put = written.into_iter().try_for_each(|file| file.commit(true));
    if put.is_err() {
        // A part of a report is none. What cannot be taken away either is at least of one run.
        for name in names.iter().rev() {
            let _ = atomic_file::remove(&folder.join(name));
        }
    }
    put
}

/// Waits until no other run changes the folder, and keeps others out until the file is dropped.
fn lock(folder: &Path, patience: Duration) -> Result<File, WriteError> {
    let path = folder.join(LOCK);
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    atomic_file::ensure_replaceable(&path)?;
    let file = atomic_file::open_in_place(&path, &mut options)?;
    let since = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) if since.elapsed() < patience => {
                std::thread::sleep(PAUSE);
            }
            Err(TryLockError::WouldBlock) => {
                let why = "another run is writing its report into this folder: try again when it \
                           has ended, or name another folder with --out";
                return Err(WriteError::new(folder, why));
            }
            Err(TryLockError::Error(error)) => {
                return Err(WriteError::new(&path, refused(&error)));
            }
        }
    }
}

fn refused(error: &io::Error) -> String {
    if error.kind() == ErrorKind::Unsupported {
        "that disk has no locks, so two runs could mix their files: name a folder on another with \
         --out"
            .to_owned()
    } else {
        describe_io_error(error)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

    use super::*;

    const NAMES: [&str; 3] = ["page", "verdict", "clearance"];

    fn content(folder: &Path) -> [Option<String>; 3] {
        NAMES.map(|name| fs::read_to_string(folder.join(name)).ok())
    }

    fn put(folder: &Path, names: &[&str], text: &str) -> Result<(), WriteError> {
        let files: Vec<_> =
            names.iter().map(|name| (*name, text.as_bytes().to_vec())).collect();
        replace_within(Duration::from_secs(60), folder, &NAMES, &files)
    }

    #[test]
    fn a_held_lock_keeps_everything_as_it_is() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        put(path, &NAMES, "old").expect("written");
        let old = content(path);
        let held = lock(path, Duration::ZERO).expect("free");
        let said = replace_within(Duration::ZERO, path, &NAMES, &[("page", b"new".to_vec())]);
        let said = said.expect_err("held").to_string();
        assert!(said.contains("another run is writing") && said.contains("--out"), "{said}");
        assert_eq!(content(path), old);
        assert_eq!(fs::read_dir(path).expect("lists").count(), 4, "nothing is left over");
        drop(held);
        put(path, &NAMES[..2], "new").expect("free again");
        assert_eq!(content(path), [Some("new".to_owned()), Some("new".to_owned()), None]);
    }

    #[test]
    fn what_is_in_the_way_of_one_file_leaves_all_as_they_are() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        put(path, &NAMES, "old").expect("written");
        fs::write(path.join("notes"), "mine").expect("written");
        fs::remove_file(path.join("clearance")).expect("removed");
        fs::create_dir(path.join("clearance")).expect("made");
        let old = content(path);
        // It is in the way of the set, even where this run has no such file.
        let said = put(path, &NAMES[..2], "new").expect_err("in the way").to_string();
        assert!(said.contains("clearance cannot be written: a folder has this name"), "{said}");
        assert_eq!(content(path), old);
        assert_eq!(fs::read(path.join("notes")).expect("there"), b"mine");
    }

    #[cfg(unix)]
    #[test]
    fn a_lock_that_is_no_plain_file_is_not_followed() {
        let folder = tempfile::tempdir().expect("a folder");
        std::os::unix::fs::symlink("elsewhere", folder.path().join(LOCK)).expect("made");
        let said = put(folder.path(), &NAMES, "new").expect_err("a link").to_string();
        assert!(said.contains("it is a link to elsewhere"), "{said}");
        assert!(!folder.path().join("elsewhere").exists());
    }

    /// Runs that clear and runs that do not, and a reader that looks at the last file, the one
    /// before and the last again. Every run writes a number of its own, so that a last file that
    /// stayed was not taken away in between.
    #[test]
    fn no_reader_sees_the_last_file_of_one_run_beside_those_of_another() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        let (number, seen) = (AtomicU32::new(0), AtomicU32::new(0));
        let done = AtomicBool::new(false);
        std::thread::scope(|scope| {
            let writers = [3, 2, 3, 2].map(|count| {
                let (number, seen) = (&number, &seen);
                scope.spawn(move || {
                    for turn in 0..500 {
                        // A reader that a busy machine keeps waiting gets more to look at.
                        if turn >= 25 && seen.load(Ordering::Relaxed) > 0 {
                            break;
                        }
                        let own = number.fetch_add(1, Ordering::Relaxed).to_string();
                        put(path, &NAMES[..count], &own).expect("written");
                    }
                })
            });
            let reader = scope.spawn(|| {
                while !done.load(Ordering::Relaxed) {
                    let read = |name| fs::read_to_string(path.join(name)).ok();
                    let (first, verdict, last) =
                        (read("clearance"), read("verdict"), read("clearance"));
                    if first.is_some() && first == last {
                        assert_eq!(verdict, first);
                        seen.fetch_add(1, Ordering::Relaxed);
                    }
                }
            });
            let ended = writers.map(std::thread::ScopedJoinHandle::join);
            done.store(true, Ordering::Relaxed);
            assert!(ended.iter().all(Result::is_ok), "{ended:?}");
            reader.join().expect("consistent");
        });
        assert!(seen.into_inner() > 0, "the reader never saw a whole set");
        let [page, verdict, clearance] = content(path);
        assert!(page.is_some() && page == verdict);
        assert!(clearance.is_none() || clearance == verdict);
    }
}
