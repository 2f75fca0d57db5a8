//! Measures sections of a tick with the processor's system timer. Under an emulator that counts
//! instructions, it measures those.

use core::ptr;

use saggar_lockstep::{SECTION_COUNT, SECTION_COUNTERS};

use crate::window;

const CONTROL: usize = 0xE000_E010;
const RELOAD: usize = 0xE000_E014;
const CURRENT: usize = 0xE000_E018;
const FULL: u32 = 0x00FF_FFFF;

/// Enabled, from the processor's clock, without an interrupt.
const RUN: u32 = 0b101;

/// Sum and maximum of each section.
pub struct CycleMeter {
    on: bool,
    last: u32,
    sums: [(u64, u32); SECTION_COUNT],
}

fn now() -> u32 {
    // SAFETY: the processor's timer, which nothing else here uses.
    unsafe { ptr::read_volatile(CURRENT as *const u32) }
}

impl CycleMeter {
    /// Starts the timer. If `on` is false, nothing is measured.
    pub fn start(on: bool) -> Self {
        // SAFETY: as in `now`.
        unsafe {
            ptr::write_volatile(RELOAD as *mut u32, FULL);
            ptr::write_volatile(CURRENT as *mut u32, 0);
            ptr::write_volatile(CONTROL as *mut u32, RUN);
        }
        Self { on, last: 0, sums: [(0, 0); SECTION_COUNT] }
    }

    /// A section begins.
    pub fn begin(&mut self) {
        if self.on {
            self.last = now();
        }
    }

    /// A section ends, and the next begins.
    pub fn end(&mut self, section: usize) {
        if !self.on {
            return;
        }
        let now = now();
        // The timer counts down.
        let spent = self.last.wrapping_sub(now) & FULL;
        if let Some((sum, max)) = self.sums.get_mut(section) {
            *sum = sum.wrapping_add(u64::from(spent));
            *max = (*max).max(spent);
        }
        self.last = self::now();
    }

    /// Publishes the results.
    pub fn show(&self) {
        if !self.on {
            return;
        }
        for (section, (sum, max)) in self.sums.iter().enumerate() {
            let at = SECTION_COUNTERS.wrapping_add(section << 4);
            window::write(at, *sum as u32);
            window::write(at.wrapping_add(4), (*sum >> 32) as u32);
            window::write(at.wrapping_add(8), *max);
        }
    }
}
