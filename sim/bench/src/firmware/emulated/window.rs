//! The window of memory that an emulated board and this process share: a file that the emulator
//! maps. This side uses file reads and writes, which cost a microsecond each and need no unsafe code.

use std::fs::File;
use std::io;
use std::os::unix::fs::FileExt as _;

use saggar_lockstep::{BOARD_STATE, TURN_DONE};

/// Bytes of the board's half that are read at once: everything except the transmit and log buffers.
const HEAD_BYTES: usize = 0x100;

/// The window.
pub(super) struct SharedWindow {
    file: File,
}

/// A copy of the board's half at one moment.
pub(super) struct BoardSnapshot([u8; HEAD_BYTES]);

impl SharedWindow {
    pub(super) const fn new(file: File) -> Self {
        Self { file }
    }

    pub(super) fn head(&self) -> io::Result<BoardSnapshot> {
        let mut bytes = [0; HEAD_BYTES];
        self.file.read_exact_at(&mut bytes, TURN_DONE as u64)?;
        Ok(BoardSnapshot(bytes))
    }

    pub(super) fn read(&self, at: usize, bytes: &mut [u8]) -> io::Result<()> {
        self.file.read_exact_at(bytes, at as u64)
    }

    pub(super) fn word(&self, at: usize) -> io::Result<u32> {
        let mut bytes = [0; 4];
        self.read(at, &mut bytes)?;
        Ok(u32::from_le_bytes(bytes))
    }

    pub(super) fn write(&self, at: usize, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all_at(bytes, at as u64)
    }

    pub(super) fn set_word(&self, at: usize, word: u32) -> io::Result<()> {
        self.write(at, &word.to_le_bytes())
    }

    pub(super) fn state(&self) -> io::Result<u32> {
        self.word(BOARD_STATE)
    }
}

impl BoardSnapshot {
    /// A word of the board's half, by its offset in the window.
    pub(super) fn word(&self, at: usize) -> u32 {
        let bytes = self.bytes(at, 4).first_chunk().copied().unwrap_or_default();
        u32::from_le_bytes(bytes)
    }

    /// Bytes of the board's half, by their offset in the window; empty if they are not in the snapshot.
    pub(super) fn bytes(&self, at: usize, length: usize) -> &[u8] {
        let from = at.saturating_sub(TURN_DONE);
        self.0.get(from..from.saturating_add(length)).unwrap_or(&[])
    }
}
