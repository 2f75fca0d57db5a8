//! The window to the furnace: memory that the furnace's process reads and writes as well.

use core::ptr;
use core::sync::atomic::{Ordering, compiler_fence};

use saggar_lockstep::{TRANSFER_WORDS, WINDOW_BASE};

/// Reads a word of the window.
pub fn read(at: usize) -> u32 {
    // SAFETY: the emulated machine has memory from WINDOW_BASE on, far beyond every offset of the
    // window; any bits are a u32. Volatile, since the other side writes it.
    unsafe { ptr::read_volatile(WINDOW_BASE.wrapping_add(at) as *const u32) }
}

/// Writes a word of the window.
pub fn write(at: usize, word: u32) {
    // SAFETY: as in `read`; nothing of this program lies there.
    unsafe { ptr::write_volatile(WINDOW_BASE.wrapping_add(at) as *mut u32, word) }
}

/// Writes a word that signals the other side that all earlier writes are complete.
pub fn publish(at: usize, word: u32) {
    compiler_fence(Ordering::SeqCst);
    write(at, word);
    compiler_fence(Ordering::SeqCst);
}

/// Reads consecutive words.
pub fn words(at: usize) -> [u32; TRANSFER_WORDS] {
    core::array::from_fn(|i| read(at.wrapping_add(i << 2)))
}

/// Writes consecutive words.
pub fn set_words(at: usize, words: &[u32; TRANSFER_WORDS]) {
    for (i, word) in words.iter().enumerate() {
        write(at.wrapping_add(i << 2), *word);
    }
}

/// Reads a byte of the window.
pub fn byte(at: usize) -> u8 {
    // SAFETY: as in `read`.
    unsafe { ptr::read_volatile(WINDOW_BASE.wrapping_add(at) as *const u8) }
}

/// Writes a byte of the window.
pub fn set_byte(at: usize, byte: u8) {
    // SAFETY: as in `write`.
    unsafe { ptr::write_volatile(WINDOW_BASE.wrapping_add(at) as *mut u8, byte) }
}
