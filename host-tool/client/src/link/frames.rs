//! Splits a stream of bytes into frames at the zeros between them.

use saggar_device::wire::FRAME_BYTES_MAX;

/// Assembles frames from the bytes of a link. Holds at most one frame, whatever arrives.
#[derive(Clone, Debug)]
pub struct FrameAssembler {
    buffer: [u8; FRAME_BYTES_MAX],
    length: usize,
    /// The current frame is too long: its bytes are skipped up to the zero.
    overflowed: bool,
    /// Number of frames that were too long.
    pub oversized: u32,
}

impl Default for FrameAssembler {
    fn default() -> Self {
        Self { buffer: [0; FRAME_BYTES_MAX], length: 0, overflowed: false, oversized: 0 }
    }
}

impl FrameAssembler {
    /// Takes bytes, and calls `take` with each frame that they complete, without its zero.
    pub fn push(&mut self, bytes: &[u8], mut take: impl FnMut(&mut [u8])) {
        for byte in bytes {
            if *byte != 0 {
                match self.buffer.get_mut(self.length) {
                    Some(slot) if !self.overflowed => {
                        *slot = *byte;
                        self.length += 1;
                    }
                    Some(_) | None => self.overflowed = true,
                }
                continue;
            }
            let (length, overflowed) = (self.length, self.overflowed);
            (self.length, self.overflowed) = (0, false);
            if overflowed {
                self.oversized = self.oversized.saturating_add(1);
            } else if let Some(frame) = self.buffer.get_mut(..length)
                && length > 0
            {
                take(frame);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(frames: &mut FrameAssembler, bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut all = Vec::new();
        frames.push(bytes, |frame| all.push(frame.to_vec()));
        all
    }

    #[test]
    fn frames_are_split_at_zeros() {
        let mut frames = FrameAssembler::default();
        assert_eq!(all(&mut frames, &[0, 0, 1, 2, 0, 3]), [vec![1, 2]]);
        assert_eq!(all(&mut frames, &[4, 0]), [vec![3, 4]], "a frame may come in two reads");
    }

    #[test]
    fn a_frame_without_an_end_is_skipped_and_the_next_one_arrives() {
        let mut frames = FrameAssembler::default();
        for _ in 0..1000 {
            assert!(all(&mut frames, &[7; 4096]).is_empty());
        }
        assert!(all(&mut frames, &[0]).is_empty(), "it was too long");
        assert_eq!(frames.oversized, 1);
        assert_eq!(all(&mut frames, &[5, 0]), [vec![5]], "the next one is good");
    }
}
