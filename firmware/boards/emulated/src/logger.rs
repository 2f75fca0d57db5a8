//! The `defmt` logger: writes its bytes into the window, which is read once a tick.

use core::cell::UnsafeCell;

use saggar_lockstep::{LOG, LOG_CAPACITY, LOG_LEN};

use crate::window;

#[defmt::global_logger]
struct Logger;

struct LoggerState {
    encoder: UnsafeCell<defmt::Encoder>,
    used: UnsafeCell<usize>,
}

// SAFETY: this board has one thread and no interrupts that log.
unsafe impl Sync for LoggerState {}

static STATE: LoggerState =
    LoggerState { encoder: UnsafeCell::new(defmt::Encoder::new()), used: UnsafeCell::new(0) };

/// Bytes that do not fit are lost; the decoder detects the incomplete frame.
fn put(bytes: &[u8]) {
    // SAFETY: one thread, and the logger does not log.
    let used = unsafe { &mut *STATE.used.get() };
    for byte in bytes {
        if *used < LOG_CAPACITY {
            window::set_byte(LOG.wrapping_add(*used), *byte);
            *used = used.wrapping_add(1);
        }
    }
}

/// Publishes the number of bytes; the next tick starts with an empty buffer.
pub fn flush() {
    // SAFETY: as in `put`.
    let used = unsafe { &mut *STATE.used.get() };
    window::write(LOG_LEN, *used as u32);
    *used = 0;
}

// SAFETY: acquire and release come in pairs, from one thread.
unsafe impl defmt::Logger for Logger {
    fn acquire() {
        // SAFETY: as in `put`.
        unsafe { &mut *STATE.encoder.get() }.start_frame(put);
    }

    unsafe fn flush() {}

    unsafe fn release() {
        // SAFETY: as in `put`.
        unsafe { &mut *STATE.encoder.get() }.end_frame(put);
    }

    unsafe fn write(bytes: &[u8]) {
        // SAFETY: as in `put`.
        unsafe { &mut *STATE.encoder.get() }.write(bytes, put);
    }
}
