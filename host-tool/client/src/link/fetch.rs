//! Fetching something longer than a frame, piece by piece.

use saggar_core::programme::IMAGE_BYTES_MAX;
use saggar_device::wire::{CHUNK_BYTES, Chunk, Notice, Query};

use super::Failed;
use super::question::{Asking, Heard};

/// What to fetch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// The active programme.
    Programme,
    /// The furnace's data.
    Furnace,
}

/// Most bytes that are fetched: a programme has no more, and a furnace's data have fewer.
const BYTES_MAX: usize = IMAGE_BYTES_MAX;

/// Fetches bytes; those of a programme that is not there are none.
#[derive(Debug)]
pub struct Fetch {
    what: What,
    got: Vec<u8>,
    of: Option<u16>,
}

impl Fetch {
    /// From the first byte on.
    pub const fn new(what: What) -> Self {
        Self { what, got: Vec::new(), of: None }
    }

    fn offset(&self) -> u16 {
        u16::try_from(self.got.len()).unwrap_or(u16::MAX)
    }

    fn take(&mut self, piece: &Chunk<'_>) -> Result<Heard<Vec<u8>>, Failed> {
        // A piece asked for twice may come twice.
        if piece.offset != self.offset() {
            return Ok(Heard::Other);
        }
        let left = usize::from(piece.total).saturating_sub(self.got.len());
        let odd = match self.of {
            _ if usize::from(piece.total) > BYTES_MAX => Some("more bytes than a device has"),
            Some(of) if of != piece.total => {
                Some("the length changed: it was changed meanwhile")
            }
            // All pieces but the last are full ones: nobody is kept busy with crumbs.
            _ if piece.data.len() != left.min(CHUNK_BYTES) => Some("a piece of another length"),
            Some(_) | None => None,
        };
        if let Some(odd) = odd {
            return Err(Failed::Odd(odd));
        }
        self.of = Some(piece.total);
        self.got.extend_from_slice(piece.data);
        let all = self.got.len() == usize::from(piece.total);
        Ok(if all { Heard::All(std::mem::take(&mut self.got)) } else { Heard::Part })
    }
}

impl Asking for Fetch {
    type Found = Vec<u8>;

    fn ask(&self) -> Query {
        let offset = self.offset();
        match self.what {
            What::Programme => Query::Programme { offset },
            What::Furnace => Query::Furnace { offset },
        }
    }

    fn hear(&mut self, tell: &Notice<'_>) -> Result<Heard<Vec<u8>>, Failed> {
        if let (Notice::Programme(piece), What::Programme)
        | (Notice::Furnace(piece), What::Furnace) = (tell, self.what)
        {
            return self.take(piece);
        }
        Ok(Heard::Other)
    }
}
