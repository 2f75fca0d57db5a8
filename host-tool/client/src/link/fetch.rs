//! Fetching something longer than a frame, piece by piece.

use saggar_core::programme::IMAGE_BYTES_MAX;
use saggar_device::wire::{CHUNK_BYTES, Chunk, Notice, Query};

use super::LinkError;
use super::query::{QuerySeries, ReplyMatch};

/// What to fetch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FetchTarget {
    /// The active programme.
    Programme,
    /// The furnace's data.
    Furnace,
}

/// Most bytes that are fetched: a programme has no more, and a furnace's data have fewer.
const BYTES_MAX: usize = IMAGE_BYTES_MAX;

/// Fetches bytes; those of a programme that is not there are none.
#[derive(Debug)]
pub struct FetchQuery {
    target: FetchTarget,
    received: Vec<u8>,
    total_bytes: Option<u16>,
}

impl FetchQuery {
    /// From the first byte on.
    pub const fn new(what: FetchTarget) -> Self {
        Self { target: what, received: Vec::new(), total_bytes: None }
    }

    fn offset(&self) -> u16 {
        u16::try_from(self.received.len()).unwrap_or(u16::MAX)
    }

    fn accept_piece(&mut self, piece: &Chunk<'_>) -> Result<ReplyMatch<Vec<u8>>, LinkError> {
        // A piece asked for twice may come twice.
        if piece.offset != self.offset() {
            return Ok(ReplyMatch::Unrelated);
        }
        let left = usize::from(piece.total).saturating_sub(self.received.len());
        let odd = match self.total_bytes {
            _ if usize::from(piece.total) > BYTES_MAX => Some("more bytes than a device has"),
            Some(of) if of != piece.total => {
                Some("the length changed: it was changed meanwhile")
            }
            // All pieces but the last are full ones: nobody is kept busy with crumbs.
            _ if piece.data.len() != left.min(CHUNK_BYTES) => Some("a piece of another length"),
            Some(_) | None => None,
        };
        if let Some(odd) = odd {
            return Err(LinkError::InvalidReply(odd));
        }
        self.total_bytes = Some(piece.total);
        self.received.extend_from_slice(piece.data);
        let all = self.received.len() == usize::from(piece.total);
        Ok(if all {
            ReplyMatch::Complete(std::mem::take(&mut self.received))
        } else {
            ReplyMatch::Partial
        })
    }
}

impl QuerySeries for FetchQuery {
    type Output = Vec<u8>;

    fn request(&self) -> Query {
        let offset = self.offset();
        match self.target {
            FetchTarget::Programme => Query::Programme { offset },
            FetchTarget::Furnace => Query::Furnace { offset },
        }
    }

    fn accept(&mut self, tell: &Notice<'_>) -> Result<ReplyMatch<Vec<u8>>, LinkError> {
        if let (Notice::Programme(piece), FetchTarget::Programme)
        | (Notice::Furnace(piece), FetchTarget::Furnace) = (tell, self.target)
        {
            return self.accept_piece(piece);
        }
        Ok(ReplyMatch::Unrelated)
    }
}
