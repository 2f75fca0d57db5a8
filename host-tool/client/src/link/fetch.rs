//! Fetching what is longer than a frame, chunk by chunk.

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

/// The longest programme. Furnace data are shorter.
const BYTES_MAX: usize = IMAGE_BYTES_MAX;

/// Fetches the bytes of a programme or of furnace data. Empty if the device has no programme.
#[derive(Debug)]
pub struct FetchQuery {
    target: FetchTarget,
    received: Vec<u8>,
    total_bytes: Option<u16>,
}

impl FetchQuery {
    /// Begins at the first byte.
    pub const fn new(target: FetchTarget) -> Self {
        Self { target, received: Vec::new(), total_bytes: None }
    }

    fn offset(&self) -> u16 {
        u16::try_from(self.received.len()).unwrap_or(u16::MAX)
    }

    fn accept_chunk(&mut self, chunk: &Chunk<'_>) -> Result<ReplyMatch<Vec<u8>>, LinkError> {
        // The reply to a repeated query may come twice.
        if chunk.offset != self.offset() {
            return Ok(ReplyMatch::Unrelated);
        }
        let left = usize::from(chunk.total).saturating_sub(self.received.len());
        let invalid = match self.total_bytes {
            _ if usize::from(chunk.total) > BYTES_MAX => Some("more bytes than a device has"),
            Some(total) if total != chunk.total => Some("the length changed meanwhile"),
            // A device that sent tiny chunks would keep us busy for long.
            _ if chunk.data.len() != left.min(CHUNK_BYTES) => {
                Some("a chunk of the wrong length")
            }
            Some(_) | None => None,
        };
        if let Some(invalid) = invalid {
            return Err(LinkError::InvalidReply(invalid));
        }
        self.total_bytes = Some(chunk.total);
        self.received.extend_from_slice(chunk.data);
        let is_complete = self.received.len() == usize::from(chunk.total);
        Ok(if is_complete {
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

    fn accept(&mut self, notice: &Notice<'_>) -> Result<ReplyMatch<Vec<u8>>, LinkError> {
        if let (Notice::Programme(chunk), FetchTarget::Programme)
        | (Notice::Furnace(chunk), FetchTarget::Furnace) = (notice, self.target)
        {
            return self.accept_chunk(chunk);
        }
        Ok(ReplyMatch::Unrelated)
    }
}
