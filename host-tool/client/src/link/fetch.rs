//! Fetching something longer than a frame, piece by piece.

use std::time::Duration;

use saggar_core::programme::IMAGE_BYTES_MAX;
use saggar_device::wire::{
    Ask, Body, CHUNK_BYTES, FRAME_BYTES_MAX, Kind, Piece, Tell, enclose,
};

use super::exchange::Again;
use super::{Exchange, Failed, Pace};

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
    pace: Pace,
    got: Vec<u8>,
    of: Option<u16>,
    again: Again,
    outcome: Option<Result<Vec<u8>, Failed>>,
}

impl Fetch {
    /// From the first byte on.
    pub fn new(what: What, pace: Pace) -> Self {
        Self { what, pace, got: Vec::new(), of: None, again: Again::default(), outcome: None }
    }

    fn offset(&self) -> u16 {
        u16::try_from(self.got.len()).unwrap_or(u16::MAX)
    }

    fn take(&mut self, piece: &Piece<'_>) {
        // A piece asked for twice may come twice.
        if piece.offset != self.offset() {
            return;
        }
        let left = usize::from(piece.of).saturating_sub(self.got.len());
        let odd = match self.of {
            _ if usize::from(piece.of) > BYTES_MAX => Some("more bytes than a device has"),
            Some(of) if of != piece.of => Some("the length changed: it was changed meanwhile"),
            // All pieces but the last are full ones: nobody is kept busy with crumbs.
            _ if piece.data.len() != left.min(CHUNK_BYTES) => Some("a piece of another length"),
            Some(_) | None => None,
        };
        if let Some(odd) = odd {
            self.outcome = Some(Err(Failed::Odd(odd)));
            return;
        }
        self.of = Some(piece.of);
        self.got.extend_from_slice(piece.data);
        self.again = Again::default();
        if self.got.len() == usize::from(piece.of) {
            self.outcome = Some(Ok(std::mem::take(&mut self.got)));
        }
    }
}

impl Exchange for Fetch {
    type Output = Vec<u8>;

    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize> {
        if !self.again.says(now, self.pace.answer, &mut self.outcome) {
            return None;
        }
        let offset = self.offset();
        let ask = match self.what {
            What::Programme => Ask::Programme { offset },
            What::Furnace => Ask::Furnace { offset },
        };
        enclose(Kind::Ask, None, &ask, frame)
    }

    fn receive(&mut self, _: Duration, body: &Body<'_>) {
        if body.kind != Kind::Tell || self.outcome.is_some() {
            return;
        }
        let Ok(tell) = body.message::<Tell<'_>>() else { return };
        if let (Tell::Programme(piece), What::Programme)
        | (Tell::Furnace(piece), What::Furnace) = (&tell, self.what)
        {
            self.take(piece);
        } else if let Tell::Refused(refusal) = tell {
            self.outcome = Some(Err(Failed::Refused(refusal)));
        }
    }

    fn wake(&self) -> Duration {
        self.again.due
    }

    fn outcome(&mut self) -> Option<Result<Vec<u8>, Failed>> {
        self.outcome.take()
    }
}
