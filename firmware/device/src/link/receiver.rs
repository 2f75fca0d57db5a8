//! Assembles frames from the bytes of the link.

use saggar_core::units::Instant;

use crate::wire::{FRAME_BYTES_MAX, FrameBody, FrameError, decode_frame};

/// Bytes accepted per tick. At 115,200 baud a tick brings 1,152.
pub const BYTES_PER_TICK: u16 = 4096;

/// Longest pause between two bytes of a frame (ms).
const PAUSE_MAX_MS: u64 = 2_000;

/// Buffer for one incoming frame.
#[derive(Clone, Debug)]
pub struct Receiver {
    buffer: [u8; FRAME_BYTES_MAX],
    used: u16,
    /// More bytes came than any frame has: discard up to the next zero.
    overlong: bool,
    last_byte_at: Instant,
    budget: u16,
    bad_frames: u32,
}

impl Default for Receiver {
    fn default() -> Self {
        Self {
            buffer: [0; FRAME_BYTES_MAX],
            used: 0,
            overlong: false,
            last_byte_at: Instant::default(),
            budget: BYTES_PER_TICK,
            bad_frames: 0,
        }
    }
}

impl Receiver {
    /// Restores the byte budget; called once a tick.
    pub fn reset_budget(&mut self) {
        self.budget = BYTES_PER_TICK;
    }

    /// Damaged frames since boot.
    pub const fn bad_frames(&self) -> u32 {
        self.bad_frames
    }

    /// Takes one byte; true if it completes a frame. Beyond the budget no frame is completed, but
    /// frame ends are still tracked, so that the next frame is not lost as well.
    pub fn push(&mut self, now: Instant, byte: u8) -> bool {
        let in_frame = self.used > 0 || self.overlong;
        if now.since(self.last_byte_at) > PAUSE_MAX_MS && in_frame {
            self.discard();
        }
        self.last_byte_at = now;
        let Some(budget) = self.budget.checked_sub(1) else {
            if byte != 0 {
                self.overlong = true;
            } else if in_frame {
                self.discard();
            }
            return false;
        };
        self.budget = budget;
        if byte == 0 {
            return self.finish();
        }
        match self.buffer.get_mut(usize::from(self.used)) {
            Some(free) => {
                *free = byte;
                self.used = self.used.saturating_add(1);
            }
            None => self.overlong = true,
        }
        false
    }

    /// Decodes the completed frame and empties the buffer.
    ///
    /// # Errors
    /// [`FrameError`]; a corrupt frame is counted.
    pub fn take_frame(&mut self) -> Result<FrameBody<'_>, FrameError> {
        let used = usize::from(self.used);
        self.used = 0;
        let decoded = decode_frame(self.buffer.get_mut(..used).unwrap_or(&mut []));
        if decoded == Err(FrameError::Corrupt) {
            self.bad_frames = self.bad_frames.saturating_add(1);
        }
        decoded
    }

    fn finish(&mut self) -> bool {
        if self.overlong {
            self.discard();
        }
        // Zeros in a row are no frames: a client sends them to clear the link.
        self.used > 0
    }

    fn discard(&mut self) {
        self.used = 0;
        self.overlong = false;
        self.bad_frames = self.bad_frames.saturating_add(1);
    }
}
