//! Writing a recording.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write as _};
use std::path::{Path, PathBuf};

use saggar_device::wire::{Origin, Tick};

use super::{HEAD, LogHeader, MAGIC, ORIGIN, PROGRAMME, TICK, record};
use saggar_files::FilesError;
use saggar_files::atomic_file::{WriteError, describe_io_error};

/// A recording being written. What was flushed survives a crash.
#[derive(Debug)]
pub struct Writer {
    path: PathBuf,
    out: BufWriter<File>,
    written: u64,
}

impl Writer {
    /// Creates a recording in a new file. No recording is ever replaced.
    ///
    /// # Errors
    /// The file exists, or cannot be written.
    pub fn create(path: &Path, head: &LogHeader) -> Result<Self, FilesError> {
        let made = OpenOptions::new().write(true).create_new(true).open(path);
        let out = made.map_err(|error| {
            let there = error.kind() == io::ErrorKind::AlreadyExists;
            let why = describe_io_error(&error);
            let why = if there { "it exists already: name another".to_owned() } else { why };
            WriteError::new(path, why)
        })?;
        let mut writer =
            Self { path: path.to_path_buf(), out: BufWriter::new(out), written: 0 };
        writer.bytes(&MAGIC)?;
        // Plain numbers and bytes can always be encoded.
        let head = postcard::to_stdvec(head).unwrap_or_default();
        writer.bytes(&record(HEAD, &head))?;
        writer.flush()?;
        Ok(writer)
    }

    /// Writes the programme that the following origins name.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn programme(&mut self, bytes: &[u8]) -> Result<(), FilesError> {
        self.bytes(&record(PROGRAMME, bytes))
    }

    /// Writes an origin.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn origin(&mut self, origin: &Origin<'_>) -> Result<(), FilesError> {
        self.bytes(&record(ORIGIN, &postcard::to_stdvec(origin).unwrap_or_default()))
    }

    /// Writes a tick.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn tick(&mut self, tick: &Tick) -> Result<(), FilesError> {
        self.bytes(&record(TICK, &postcard::to_stdvec(tick).unwrap_or_default()))
    }

    /// Flushes the recording.
    ///
    /// # Errors
    /// The disk takes no more.
    pub fn flush(&mut self) -> Result<(), FilesError> {
        self.out.flush().map_err(|error| self.write_error(&error))
    }

    /// Bytes written so far.
    pub const fn written(&self) -> u64 {
        self.written
    }

    fn bytes(&mut self, bytes: &[u8]) -> Result<(), FilesError> {
        self.written += bytes.len() as u64;
        self.out.write_all(bytes).map_err(|error| self.write_error(&error))
    }

    fn write_error(&self, error: &io::Error) -> FilesError {
        WriteError::new(&self.path, describe_io_error(error)).into()
    }
}
