//! An exchange on a bus, as it lies in the window.

use crate::pins::Part;
use crate::window::{TRANSFER_BYTES_MAX, TRANSFER_WORDS};

impl Part {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Control, Self::Limit, Self::Slow];

    const fn number(self) -> u32 {
        match self {
            Self::Control => 0,
            Self::Limit => 1,
            Self::Slow => 2,
        }
    }
}

/// One exchange on a bus: so many bytes out, so many in, and how the input pins stand after it. It
/// lies in the window as words: part, answered, bytes out, bytes in (a byte each); pins; what goes
/// out; what comes in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BusTransfer(pub [u32; TRANSFER_WORDS]);

const OUT_WORD: usize = 2;
const IN_WORD: usize = OUT_WORD + TRANSFER_BYTES_MAX / 4;

impl BusTransfer {
    /// A question to a part; `None` if it is longer than any.
    pub fn request(part: Part, out: &[u8], in_bytes: usize) -> Option<Self> {
        if out.len() > TRANSFER_BYTES_MAX || in_bytes > TRANSFER_BYTES_MAX {
            return None;
        }
        let counts =
            [part.number(), 0, u32::try_from(out.len()).ok()?, u32::try_from(in_bytes).ok()?];
        let [part, _, sent, wanted] = counts;
        let mut words = [0; TRANSFER_WORDS];
        *words.first_mut()? = part | sent << 16 | wanted << 24;
        put(words.get_mut(OUT_WORD..IN_WORD)?, out);
        Some(Self(words))
    }

    /// The other asks the same of the same part.
    pub fn has_same_request(&self, other: &Self) -> bool {
        const NOT_ANSWERED: u32 = !0xFF00;
        let head = |e: &Self| e.0.first().map(|word| word & NOT_ANSWERED);
        head(self) == head(other)
            && self.0.get(OUT_WORD..IN_WORD) == other.0.get(OUT_WORD..IN_WORD)
    }

    /// The part that is asked.
    pub fn part(&self) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.number() == self.head(0))
    }

    /// The part answered.
    pub fn is_answered(&self) -> bool {
        self.head(1) != 0
    }

    /// Levels of the input pins after it.
    pub fn pins(&self) -> u32 {
        self.0.get(1).copied().unwrap_or(0)
    }

    /// What goes out: as many bytes of `room` as there are.
    pub fn copy_request<'a>(&self, room: &'a mut [u8; TRANSFER_BYTES_MAX]) -> &'a [u8] {
        get(self.0.get(OUT_WORD..IN_WORD).unwrap_or(&[]), room);
        usize::try_from(self.head(2)).ok().and_then(|n| room.get(..n)).unwrap_or(&[])
    }

    /// Bytes that are wanted back.
    pub fn reply_len(&self) -> usize {
        usize::try_from(self.head(3)).unwrap_or(0).min(TRANSFER_BYTES_MAX)
    }

    /// What came back, into all of `room`.
    pub fn copy_reply(&self, room: &mut [u8]) {
        get(self.0.get(IN_WORD..).unwrap_or(&[]), room);
    }

    /// The same with its answer; `None` is a part that does not answer.
    pub fn with_reply(mut self, back: Option<&[u8]>, pins: u32) -> Self {
        if let Some(word) = self.0.get_mut(1) {
            *word = pins;
        }
        if let Some(back) = back {
            if let Some(word) = self.0.first_mut() {
                *word |= 1 << 8;
            }
            put(self.0.get_mut(IN_WORD..).unwrap_or(&mut []), back);
        }
        self
    }

    fn head(&self, byte: usize) -> u32 {
        let bytes = self.0.first().map_or([0; 4], |word| word.to_le_bytes());
        bytes.get(byte).copied().map_or(0, u32::from)
    }
}

fn put(words: &mut [u32], bytes: &[u8]) {
    for (word, four) in words.iter_mut().zip(bytes.chunks(4)) {
        let mut whole = [0; 4];
        for (place, byte) in whole.iter_mut().zip(four) {
            *place = *byte;
        }
        *word = u32::from_le_bytes(whole);
    }
}

fn get(words: &[u32], bytes: &mut [u8]) {
    let all = words.iter().flat_map(|word| word.to_le_bytes());
    for (place, byte) in bytes.iter_mut().zip(all) {
        *place = byte;
    }
}
