//! Stack usage: the stack is painted once, and from time to time searched for the deepest overwritten
//! word.

use core::ptr;

const PAINT: u32 = 0x5A66_A25A;

unsafe extern "C" {
    static mut _stack_end: u32;
    static mut _stack_start: u32;
}

/// Bytes below the top that are painted and searched.
const PAINTED_BYTES: usize = 64 * 1024;

fn top() -> *mut u32 {
    &raw mut _stack_start
}

/// Paints the stack below the caller.
pub fn paint() {
    let here = cortex_m::register::msp::read() as usize;
    let lowest = (top() as usize).saturating_sub(PAINTED_BYTES);
    let mut at = lowest;
    while at.wrapping_add(64) < here {
        // SAFETY: memory of the stack below all that is in use; 64 bytes are left alone.
        unsafe { ptr::write_volatile(at as *mut u32, PAINT) };
        at = at.wrapping_add(4);
    }
}

/// Bytes from the top to the deepest word that is no longer painted.
pub fn deepest() -> u32 {
    let top = top() as usize;
    let mut at = top.saturating_sub(PAINTED_BYTES);
    // SAFETY: memory of the stack.
    while at < top && unsafe { ptr::read_volatile(at as *const u32) } == PAINT {
        at = at.wrapping_add(4);
    }
    top.wrapping_sub(at) as u32
}
