//! A bus transfer as it is stored in the window.

use crate::pins::Part;
use crate::window::{TRANSFER_BYTES_MAX, TRANSFER_WORDS};

impl Part {
    /// All parts.
    pub const ALL: [Self; 3] = [Self::Control, Self::Limit, Self::Slow];

    const fn number(self) -> u32 {
        match self {
            Self::Control => 0,
            Self::Limit => 1,
            Self::Slow => 2,
        }
    }
}

/// A transfer on a bus: bytes out, bytes in, and the input pins after it. Stored as words: one word
/// with a byte each for part, answered flag, length out and length in; one word for the pins; the
/// bytes out; the bytes in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BusTransfer(pub [u32; TRANSFER_WORDS]);

const OUT_WORD: usize = 2;
const IN_WORD: usize = OUT_WORD + TRANSFER_BYTES_MAX / 4;

impl BusTransfer {
    /// A request to a part; `None` if it is longer than [`TRANSFER_BYTES_MAX`].
    pub fn request(part: Part, out: &[u8], in_bytes: usize) -> Option<Self> {
        if out.len() > TRANSFER_BYTES_MAX || in_bytes > TRANSFER_BYTES_MAX {
            return None;
        }
        let counts =
            [part.number(), 0, u32::try_from(out.len()).ok()?, u32::try_from(in_bytes).ok()?];
        let [part, _, out_len, in_len] = counts;
        let mut words = [0; TRANSFER_WORDS];
        *words.first_mut()? = part | out_len << 16 | in_len << 24;
        pack(words.get_mut(OUT_WORD..IN_WORD)?, out);
        Some(Self(words))
    }

    /// True if both transfers make the same request to the same part.
    pub fn has_same_request(&self, other: &Self) -> bool {
        const WITHOUT_ANSWERED_FLAG: u32 = !0xFF00;
        let header =
            |transfer: &Self| transfer.0.first().map(|word| word & WITHOUT_ANSWERED_FLAG);
        header(self) == header(other)
            && self.0.get(OUT_WORD..IN_WORD) == other.0.get(OUT_WORD..IN_WORD)
    }

    /// The addressed part.
    pub fn part(&self) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.number() == self.header_byte(0))
    }

    /// True if the part answered.
    pub fn is_answered(&self) -> bool {
        self.header_byte(1) != 0
    }

    /// Levels of the input pins after the transfer.
    pub fn pins(&self) -> u32 {
        self.0.get(1).copied().unwrap_or(0)
    }

    /// Copies the bytes of the request into `buffer` and returns the used part of it.
    pub fn copy_request<'a>(&self, buffer: &'a mut [u8; TRANSFER_BYTES_MAX]) -> &'a [u8] {
        unpack(self.0.get(OUT_WORD..IN_WORD).unwrap_or(&[]), buffer);
        usize::try_from(self.header_byte(2)).ok().and_then(|n| buffer.get(..n)).unwrap_or(&[])
    }

    /// Expected length of the reply (bytes).
    pub fn reply_len(&self) -> usize {
        usize::try_from(self.header_byte(3)).unwrap_or(0).min(TRANSFER_BYTES_MAX)
    }

    /// Fills `buffer` with the bytes of the reply.
    pub fn copy_reply(&self, buffer: &mut [u8]) {
        unpack(self.0.get(IN_WORD..).unwrap_or(&[]), buffer);
    }

    /// The transfer with its reply; `None` for a part that does not answer.
    pub fn with_reply(mut self, reply: Option<&[u8]>, pins: u32) -> Self {
        if let Some(word) = self.0.get_mut(1) {
            *word = pins;
        }
        if let Some(reply) = reply {
            if let Some(word) = self.0.first_mut() {
                *word |= 1 << 8;
            }
            pack(self.0.get_mut(IN_WORD..).unwrap_or(&mut []), reply);
        }
        self
    }

    fn header_byte(&self, byte: usize) -> u32 {
        let bytes = self.0.first().map_or([0; 4], |word| word.to_le_bytes());
        bytes.get(byte).copied().map_or(0, u32::from)
    }
}

fn pack(words: &mut [u32], bytes: &[u8]) {
    for (word, four) in words.iter_mut().zip(bytes.chunks(4)) {
        let mut padded = [0; 4];
        for (slot, byte) in padded.iter_mut().zip(four) {
            *slot = *byte;
        }
        *word = u32::from_le_bytes(padded);
    }
}

fn unpack(words: &[u32], bytes: &mut [u8]) {
    let all = words.iter().flat_map(|word| word.to_le_bytes());
    for (slot, byte) in bytes.iter_mut().zip(all) {
        *slot = byte;
    }
}
