//! From bytes to frames: what stands between two zeros, and never more than a frame may have.

use saggar_device::wire::FRAME_BYTES_MAX;

/// Gathers the bytes of a line into frames. Holds at most one frame, whatever the line sends.
#[derive(Clone, Debug)]
pub struct FrameAssembler {
    buffer: [u8; FRAME_BYTES_MAX],
    length: usize,
    /// More bytes came than a frame has: nothing is taken until its zero.
    overflowed: bool,
    /// Frames that were too long.
    pub oversized: u32,
}

impl Default for FrameAssembler {
    fn default() -> Self {
        Self { buffer: [0; FRAME_BYTES_MAX], length: 0, overflowed: false, oversized: 0 }
    }
}

impl FrameAssembler {
    /// Takes bytes and hands each frame that they complete to `take`, without its zero.
    pub fn push(&mut self, bytes: &[u8], mut take: impl FnMut(&mut [u8])) {
        for byte in bytes {
            if *byte != 0 {
                match self.buffer.get_mut(self.length) {
                    Some(place) if !self.overflowed => {
                        *place = *byte;
                        self.length += 1;
                    }
                    Some(_) | None => self.overflowed = true,
                }
                continue;
            }
            let (used, over) = (self.length, self.overflowed);
            (self.length, self.overflowed) = (0, false);
            if over {
                self.oversized = self.oversized.saturating_add(1);
            } else if let Some(frame) = self.buffer.get_mut(..used)
                && used > 0
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
    fn frames_are_what_stands_between_zeros() {
        let mut frames = FrameAssembler::default();
        assert_eq!(all(&mut frames, &[0, 0, 1, 2, 0, 3]), [vec![1, 2]]);
        assert_eq!(all(&mut frames, &[4, 0]), [vec![3, 4]], "a frame may come in two reads");
    }

    #[test]
    fn a_line_that_never_ends_a_frame_costs_one_frame_of_memory() {
        let mut frames = FrameAssembler::default();
        for _ in 0..1000 {
            assert!(all(&mut frames, &[7; 4096]).is_empty());
        }
        assert!(all(&mut frames, &[0]).is_empty(), "it was too long");
        assert_eq!(frames.oversized, 1);
        assert_eq!(all(&mut frames, &[5, 0]), [vec![5]], "the next one is good");
    }
}
