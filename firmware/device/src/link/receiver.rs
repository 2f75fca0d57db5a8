//! Bytes from the line, gathered to frames.

use saggar_core::units::Instant;

use crate::wire::{FRAME_BYTES_MAX, FrameBody, FrameError, decode_frame};

/// Most bytes that are looked at between two ticks; at 115,200 baud a tick brings 1,152.
pub const BYTES_PER_TICK: u16 = 4096;

/// Longest silence inside a frame (ms).
const SILENCE_MAX_MS: u64 = 2_000;

/// A frame that comes in.
#[derive(Clone, Debug)]
pub struct Receiver {
    room: [u8; FRAME_BYTES_MAX],
    used: u16,
    /// More came than any frame has: nothing is kept up to the next zero.
    overlong: bool,
    last: Instant,
    left: u16,
    noise: u32,
}

impl Default for Receiver {
    fn default() -> Self {
        Self {
            room: [0; FRAME_BYTES_MAX],
            used: 0,
            overlong: false,
            last: Instant::default(),
            left: BYTES_PER_TICK,
            noise: 0,
        }
    }
}

impl Receiver {
    /// A tick has passed: as many bytes again.
    pub fn reset_budget(&mut self) {
        self.left = BYTES_PER_TICK;
    }

    /// Frames that arrived broken since the device came up.
    pub const fn noise(&self) -> u32 {
        self.noise
    }

    /// Takes one byte; true if it ends a frame. Beyond the budget no frame ends; but where one
    /// would have is known, so that the next is not lost with it.
    pub fn push(&mut self, now: Instant, byte: u8) -> bool {
        let begun = self.used > 0 || self.overlong;
        if now.since(self.last) > SILENCE_MAX_MS && begun {
            self.forget();
        }
        self.last = now;
        let Some(left) = self.left.checked_sub(1) else {
            if byte != 0 {
                self.overlong = true;
            } else if begun {
                self.forget();
            }
            return false;
        };
        self.left = left;
        if byte == 0 {
            return self.ends();
        }
        match self.room.get_mut(usize::from(self.used)) {
            Some(place) => {
                *place = byte;
                self.used = self.used.saturating_add(1);
            }
            None => self.overlong = true,
        }
        false
    }

    /// Opens the frame that has ended, and forgets its bytes.
    ///
    /// # Errors
    /// Why it is none.
    pub fn take_frame(&mut self) -> Result<FrameBody<'_>, FrameError> {
        let used = usize::from(self.used);
        self.used = 0;
        let opened = decode_frame(self.room.get_mut(..used).unwrap_or(&mut []));
        if opened == Err(FrameError::Corrupt) {
            self.noise = self.noise.saturating_add(1);
        }
        opened
    }

    fn ends(&mut self) -> bool {
        if self.overlong {
            self.forget();
        }
        // Zeros in a row end nothing: a desk sends some to clear the line.
        self.used > 0
    }

    fn forget(&mut self) {
        self.used = 0;
        self.overlong = false;
        self.noise = self.noise.saturating_add(1);
    }
}
