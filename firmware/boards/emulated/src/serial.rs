//! The emulated serial port (a CMSDK APB UART), which carries the link to a client.

use core::ptr;

const BASE: usize = 0x4000_4000;
const DATA: usize = 0x0;
const STATE: usize = 0x4;
const CONTROL: usize = 0x8;
const DIVIDER: usize = 0x10;

const TX_FULL: u32 = 1;
const RX_FULL: u32 = 2;
const ENABLE_BOTH: u32 = 3;

fn read(register: usize) -> u32 {
    // SAFETY: a register of a device that the emulated machine has.
    unsafe { ptr::read_volatile(BASE.wrapping_add(register) as *const u32) }
}

fn write(register: usize, word: u32) {
    // SAFETY: as in `read`.
    unsafe { ptr::write_volatile(BASE.wrapping_add(register) as *mut u32, word) }
}

/// 115,200 baud at a clock of 25 MHz.
pub fn start() {
    write(DIVIDER, 217);
    write(CONTROL, ENABLE_BOTH);
}

/// The next received byte.
pub fn take() -> Option<u8> {
    (read(STATE) & RX_FULL != 0).then(|| read(DATA) as u8)
}

/// Sends a byte, waiting until the port can take it.
pub fn put(byte: u8) {
    while read(STATE) & TX_FULL != 0 {}
    write(DATA, u32::from(byte));
}
