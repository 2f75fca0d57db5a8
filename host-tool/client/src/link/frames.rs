//! From bytes to frames: what stands between two zeros, and never more than a frame may have.

use saggar_device::wire::FRAME_BYTES_MAX;

/// Gathers the bytes of a line into frames. Holds at most one frame, whatever the line sends.
#[derive(Clone, Debug)]
pub struct Frames {
    room: [u8; FRAME_BYTES_MAX],
    used: usize,
    /// More bytes came than a frame has: nothing is taken until its zero.
    over: bool,
    /// Frames that were too long.
    pub torn: u32,
}

impl Default for Frames {
    fn default() -> Self {
        Self { room: [0; FRAME_BYTES_MAX], used: 0, over: false, torn: 0 }
    }
}

impl Frames {
    /// Takes bytes and hands each frame that they complete to `take`, without its zero.
    pub fn push(&mut self, bytes: &[u8], mut take: impl FnMut(&mut [u8])) {
        for byte in bytes {
            if *byte != 0 {
                match self.room.get_mut(self.used) {
                    Some(place) if !self.over => {
                        *place = *byte;
                        self.used += 1;
                    }
                    Some(_) | None => self.over = true,
                }
                continue;
            }
            let (used, over) = (self.used, self.over);
            (self.used, self.over) = (0, false);
            if over {
                self.torn = self.torn.saturating_add(1);
            } else if let Some(frame) = self.room.get_mut(..used)
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

    fn all(frames: &mut Frames, bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut all = Vec::new();
        frames.push(bytes, |frame| all.push(frame.to_vec()));
        all
    }

    #[test]
    fn frames_are_what_stands_between_zeros() {
        let mut frames = Frames::default();
        assert_eq!(all(&mut frames, &[0, 0, 1, 2, 0, 3]), [vec![1, 2]]);
        assert_eq!(all(&mut frames, &[4, 0]), [vec![3, 4]], "a frame may come in two reads");
    }

    #[test]
    fn a_line_that_never_ends_a_frame_costs_one_frame_of_memory() {
        let mut frames = Frames::default();
        for _ in 0..1000 {
            assert!(all(&mut frames, &[7; 4096]).is_empty());
        }
        assert!(all(&mut frames, &[0]).is_empty(), "it was too long");
        assert_eq!(frames.torn, 1);
        assert_eq!(all(&mut frames, &[5, 0]), [vec![5]], "the next one is good");
    }
}
