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
    /// Something was written since the last sync.
    unsynced: Cell<bool>,
    /// When it was last synced.
    synced_at: Cell<Option<Clock>>,
}

impl FlashFile {
    /// Opens or creates a file, and reads it.
    ///
    /// # Errors
    /// The file cannot be read or written, has the wrong size, or others may read the key in it.
    fn open(path: &Path) -> Result<(Self, Vec<u8>), StandInError> {
        let invalid = |message: String| {
            let cure = "name another file for --memory; one is made if there is none";
            Diagnostic::for_file(path, message, cure)
        };
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = open_in_place(path, &mut options)
            .map_err(|error| invalid(format!("it cannot be opened: {}", error.why)))?;
        if file.try_lock().is_err() {
            return Err(invalid("another stand-in is using it".to_owned()).into());
        }
        let mut bytes = Vec::new();
        let read_max = FLASH_BYTES as u64 + 1;
        (&mut file).take(read_max).read_to_end(&mut bytes).map_err(|why| {
            invalid(format!("it cannot be read: {}", describe_io_error(&why)))
        })?;
        if !bytes.is_empty() && bytes.len() != FLASH_BYTES {
            return Err(invalid(format!(
                "it is not a stand-in's memory, which has {FLASH_BYTES} bytes"
            ))
            .into());
        }
        key::require_private(path, &file, &key::SecretFile::STANDIN_FLASH)?;
        let flash_file = Self { file, unsynced: Cell::new(false), synced_at: Cell::new(None) };
        if bytes.is_empty() {
            bytes = vec![0xFF; FLASH_BYTES];
            flash_file.write(0, &bytes).map_err(|why| {
                invalid(format!("it cannot be written: {}", describe_io_error(&why)))
            })?;
            atomic_file::sync_folder(&parent_folder(path));
        }
        Ok((flash_file, bytes))
    }

    /// The flash kept in a file, which is created if there is none, and the file.
    ///
    /// # Errors
    /// The file cannot be opened, read or written.
    pub fn open_flash(path: &Path) -> Result<(SimulatedFlash, Rc<Self>), StandInError> {
        let (flash_file, bytes) = Self::open(path)?;
        let flash_file = Rc::new(flash_file);
        let backing = Rc::clone(&flash_file);
        Ok((
            SimulatedFlash::with_backing(
                bytes,
                Box::new(move |at, bytes| backing.write(at, bytes)),
            ),
            flash_file,
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
        let sync = self.unsynced.get() && (at_once || due());
        if sync {
            self.file.sync_data()?;
            self.unsynced.set(false);
            self.synced_at.set(Some(now));
        }
        Ok(sync)
    }
}

impl Drop for FlashFile {
    fn drop(&mut self) {
        // Something is left to sync only after another error, which is already reported.
        let _ = self.sync(true, Clock::now());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_are_synced_once_a_second_and_on_request() {
        let folder = tempfile::tempdir().unwrap();
        let (file, _) = FlashFile::open(&folder.path().join("m")).unwrap();
        let start = Clock::now();
        let mut elapsed_ms = 0;
        let mut sync = |file: &FlashFile, at_once, later_ms| {
            elapsed_ms += later_ms;
            file.sync(at_once, start + Duration::from_millis(elapsed_ms)).unwrap()
        };
        assert!(sync(&file, false, 0), "a new file was written");
        assert!(!sync(&file, false, 5000), "nothing was written since");
        assert!(!sync(&file, true, 0));
        file.write(7, &[1]).unwrap();
        assert!(sync(&file, false, 0));
        for _ in 0..9 {
            file.write(7, &[1]).unwrap();
            assert!(!sync(&file, false, 100), "not within the same second");
        }
        assert!(sync(&file, false, 100), "after a second");
        file.write(7, &[1]).unwrap();
        assert!(sync(&file, true, 10));
    }
}
