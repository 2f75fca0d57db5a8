//! The file that keeps a stand-in's flash between two runs.
//!
//! Writes go to the system at once, so that they outlive this process, and to the disk within a
//! second, so that a power cut loses no more than that.

use std::cell::Cell;
use std::fs::{File, OpenOptions};
use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::Path;
use std::rc::Rc;
use std::time::{Duration, Instant as Clock};

use saggar_bench::flash::SimulatedFlash;
use saggar_lockstep::FLASH_BYTES;

use saggar_client::key;
use saggar_files::Diagnostic;

use crate::StandInError;
use saggar_files::atomic_file::{self, describe_io_error, open_in_place, parent_folder};

/// Least time between two syncs to the disk, because each takes as long as some ticks.
pub(super) const SYNC_INTERVAL: Duration = Duration::from_secs(1);

/// The open file.
#[derive(Debug)]
pub struct FlashFile {
    file: File,
    /// Something was written since the last sync; and when that was.
    unsynced: Cell<bool>,
    synced_at: Cell<Option<Clock>>,
}

impl FlashFile {
    /// Opens or creates a file, and reads it.
    ///
    /// # Errors
    /// The file cannot be read or written, has the wrong size, or others may read the key in it.
    fn open(path: &Path) -> Result<(Self, Vec<u8>), StandInError> {
        let wrong = |message: String| {
            let cure = "name another file for --memory; one is made if there is none";
            Diagnostic::for_file(path, message, cure)
        };
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = open_in_place(path, &mut options)
            .map_err(|unwritten| wrong(format!("it cannot be opened: {}", unwritten.why)))?;
        key::require_private(path, &file, &key::SecretFile::STANDIN_FLASH)?;
        if file.try_lock().is_err() {
            return Err(wrong("another stand-in is using it".to_owned()).into());
        }
        let mut bytes = Vec::new();
        let most = FLASH_BYTES as u64 + 1;
        (&mut file)
            .take(most)
            .read_to_end(&mut bytes)
            .map_err(|why| wrong(format!("it cannot be read: {}", describe_io_error(&why))))?;
        let disk = Self { file, unsynced: Cell::new(false), synced_at: Cell::new(None) };
        if bytes.is_empty() {
            bytes = vec![0xFF; FLASH_BYTES];
            disk.write(0, &bytes).map_err(|why| {
                wrong(format!("it cannot be written: {}", describe_io_error(&why)))
            })?;
            atomic_file::sync_folder(&parent_folder(path));
        }
        if bytes.len() != FLASH_BYTES {
            return Err(wrong(format!(
                "it is not a stand-in's memory, which has {FLASH_BYTES} bytes"
            ))
            .into());
        }
        Ok((disk, bytes))
    }

    /// The flash kept in a file, which is created if there is none, and the file.
    ///
    /// # Errors
    /// The file cannot be opened, read or written.
    pub fn open_flash(path: &Path) -> Result<(SimulatedFlash, Rc<Self>), StandInError> {
        let (disk, bytes) = Self::open(path)?;
        let disk = Rc::new(disk);
        let keeper = Rc::clone(&disk);
        Ok((
            SimulatedFlash::with_backing(
                bytes,
                Box::new(move |at, bytes| keeper.write(at, bytes)),
            ),
            disk,
        ))
    }

    /// Writes bytes at an offset.
    ///
    /// # Errors
    /// The system refuses them.
    fn write(&self, at: usize, bytes: &[u8]) -> io::Result<()> {
        self.unsynced.set(true);
        let mut file = &self.file;
        file.seek(SeekFrom::Start(at as u64))?;
        file.write_all(bytes)
    }

    /// Syncs to the disk if that is due, or at once. Returns whether it did.
    ///
    /// # Errors
    /// The disk refuses them.
    pub fn sync(&self, at_once: bool, now: Clock) -> io::Result<bool> {
        let due = || {
            self.synced_at.get().is_none_or(|last| now.duration_since(last) >= SYNC_INTERVAL)
        };
        let keeps = self.unsynced.get() && (at_once || due());
        if keeps {
            self.file.sync_data()?;
            self.unsynced.set(false);
            self.synced_at.set(Some(now));
        }
        Ok(keeps)
    }
}

impl Drop for FlashFile {
    fn drop(&mut self) {
        // Only after another error is there anything to sync; nobody is left to report to.
        let _ = self.sync(true, Clock::now());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_are_synced_once_a_second_and_on_request() {
        let folder = tempfile::tempdir().unwrap();
        let (disk, _) = FlashFile::open(&folder.path().join("m")).unwrap();
        let start = Clock::now();
        let mut second = 0;
        let mut keep = |disk: &FlashFile, at_once, later_ms| {
            second += later_ms;
            disk.sync(at_once, start + Duration::from_millis(second)).unwrap()
        };
        assert!(keep(&disk, false, 0), "a new file was written");
        assert!(!keep(&disk, false, 5000), "nothing was written since");
        assert!(!keep(&disk, true, 0));
        disk.write(7, &[1]).unwrap();
        assert!(keep(&disk, false, 0));
        for _ in 0..9 {
            disk.write(7, &[1]).unwrap();
            assert!(!keep(&disk, false, 100), "not every time");
        }
        assert!(keep(&disk, false, 100), "nor never");
        disk.write(7, &[1]).unwrap();
        assert!(keep(&disk, true, 10));
    }
}
