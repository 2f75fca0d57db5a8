//! Replaces a set of files in a folder, so that the files there always come from one run.
//!
//! All files are written under temporary names first. Then, under a lock, the old files are removed
//! in reverse order and the new ones renamed in order. If a run is interrupted, the files that remain
//! come from one run, and the last file of the set exists only if all the others do. Files of other
//! names are not touched.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind};
use std::path::Path;
use std::time::{Duration, Instant};

use crate::atomic_file::{self, AtomicFile, WriteError, describe_io_error};

/// The file that a run locks while it changes the folder. It is never removed: a lock on a removed
/// file would not keep other runs out.
const LOCK: &str = ".saggar-lock";

/// How long to wait for the lock. Another run holds it only while it renames a few small files.
const LOCK_TIMEOUT: Duration = Duration::from_secs(5);

/// Time between two attempts to lock.
const RETRY_INTERVAL: Duration = Duration::from_millis(20);

/// Replaces the files of these `names` in a folder by `files`, whose names are some of them, in the
/// same order. A name without a new file is removed.
///
/// # Errors
/// A file cannot be written or replaced, or the lock cannot be taken. Nothing in the folder changes
/// before all files are written and the lock is held.
pub fn replace(
    folder: &Path,
    names: &[&str],
    files: &[(&str, Vec<u8>)],
) -> Result<(), WriteError> {
    replace_within(LOCK_TIMEOUT, folder, names, files)
}

fn replace_within(
    timeout: Duration,
    folder: &Path,
    names: &[&str],
    files: &[(&str, Vec<u8>)],
) -> Result<(), WriteError> {
    let mut written = Vec::new();
    for (name, bytes) in files {
        written.push(AtomicFile::create(&folder.join(name), bytes)?);
    }
    let _lock = lock(folder, timeout)?;
    // Remove nothing unless every file can be replaced.
    for name in names {
        atomic_file::ensure_replaceable(&folder.join(name))?;
    }
    for name in names.iter().rev() {
        atomic_file::remove(&folder.join(name))?;
    }
    atomic_file::sync_folder(folder);
    let put = written.into_iter().try_for_each(|file| file.commit(true));
    if put.is_err() {
        // A partial set is worse than none. Files that cannot be removed at least come from one run.
        for name in names.iter().rev() {
            let _ = atomic_file::remove(&folder.join(name));
        }
    }
    put
}

/// Locks the folder against other runs until the returned file is dropped.
fn lock(folder: &Path, timeout: Duration) -> Result<File, WriteError> {
    let path = folder.join(LOCK);
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    atomic_file::ensure_replaceable(&path)?;
    let file = atomic_file::open_in_place(&path, &mut options)?;
    let since = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) if since.elapsed() < timeout => {
                std::thread::sleep(RETRY_INTERVAL);
            }
            Err(TryLockError::WouldBlock) => {
                let why = "another run is writing its report into this folder: try again when it \
                           has ended, or name another folder with --out";
                return Err(WriteError::new(folder, why));
            }
            Err(TryLockError::Error(error)) => {
                return Err(WriteError::new(&path, describe_lock_error(&error)));
            }
        }
    }
}

fn describe_lock_error(error: &io::Error) -> String {
    if error.kind() == ErrorKind::Unsupported {
        "this disk supports no file locks, so two runs could mix their files: choose a folder on \
         another disk with --out"
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
    fn nothing_changes_while_another_run_holds_the_lock() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        put(path, &NAMES, "old").expect("written");
        let old = content(path);
        let held = lock(path, Duration::ZERO).expect("free");
        let result = replace_within(Duration::ZERO, path, &NAMES, &[("page", b"new".to_vec())]);
        let message = result.expect_err("held").to_string();
        assert!(
            message.contains("another run is writing") && message.contains("--out"),
            "{message}"
        );
        assert_eq!(content(path), old);
        assert_eq!(fs::read_dir(path).expect("lists").count(), 4, "nothing is left over");
        drop(held);
        put(path, &NAMES[..2], "new").expect("free again");
        assert_eq!(content(path), [Some("new".to_owned()), Some("new".to_owned()), None]);
    }

    #[test]
    fn nothing_changes_if_one_file_cannot_be_replaced() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        put(path, &NAMES, "old").expect("written");
        fs::write(path.join("notes"), "mine").expect("written");
        fs::remove_file(path.join("clearance")).expect("removed");
        fs::create_dir(path.join("clearance")).expect("made");
        let old = content(path);
        // It blocks the set even though this run does not write that file.
        let message = put(path, &NAMES[..2], "new").expect_err("in the way").to_string();
        assert!(
            message.contains("clearance cannot be written: a folder has this name"),
            "{message}"
        );
        assert_eq!(content(path), old);
        assert_eq!(fs::read(path.join("notes")).expect("there"), b"mine");
    }

    #[cfg(unix)]
    #[test]
    fn a_lock_file_that_is_a_link_is_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        std::os::unix::fs::symlink("elsewhere", folder.path().join(LOCK)).expect("made");
        let message = put(folder.path(), &NAMES, "new").expect_err("a link").to_string();
        assert!(message.contains("it is a link to elsewhere"), "{message}");
        assert!(!folder.path().join("elsewhere").exists());
    }

    /// Some runs write the whole set, some leave out the last file. A reader reads the last file, the one
    /// before it and the last again. Every run writes its own number, so equal readings of the last
    /// file mean that it was not replaced in between.
    #[test]
    fn a_reader_never_sees_files_of_two_runs_together() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        let (number, seen) = (AtomicU32::new(0), AtomicU32::new(0));
        let done = AtomicBool::new(false);
        std::thread::scope(|scope| {
            let writers = [3, 2, 3, 2].map(|count| {
                let (number, seen) = (&number, &seen);
                scope.spawn(move || {
                    for turn in 0..500 {
                        // On a busy machine the reader needs more rounds.
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
