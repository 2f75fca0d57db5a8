//! The frame: COBS keeps zero for the end, CRC-32 finds what a noisy line did.

use cobs::{DecodeResult, DecoderState};
use saggar_core::buffer::ByteBuffer;
use saggar_core::checksum::CRC;
use serde::{Deserialize, Serialize};

use super::PROTOCOL;
use super::seal::{SEAL_BYTES, SessionKey};

/// Bytes before the message: protocol and kind.
const HEAD_BYTES: usize = 2;

/// Bytes of a sequence number.
const SEQUENCE_BYTES: usize = 4;

/// Bytes of the checksum.
const CRC_BYTES: usize = 4;

/// Most bytes of a frame before COBS: a [`super::Origin`] with the longest snapshot.
pub const BODY_BYTES_MAX: usize = 300;

/// Most bytes of a frame on the line: COBS adds one in 254 and one, and the zero ends it.
pub const FRAME_BYTES_MAX: usize = BODY_BYTES_MAX + 2 + 1;

/// What a frame carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameKind {
    /// A question of the desk.
    Query,
    /// Something that the desk wants done, sealed.
    Order,
    /// What the device says to anyone.
    Notice,
    /// What the device says of an order, sealed.
    Answer,
}

impl FrameKind {
    const ALL: [Self; 4] = [Self::Query, Self::Order, Self::Notice, Self::Answer];

    /// Its byte.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Query => 1,
            Self::Order => 2,
            Self::Notice => 3,
            Self::Answer => 4,
        }
    }
}

/// Why bytes are no frame that this side understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrameError {
    /// Too short, too long, no COBS, or a checksum that does not fit: noise on the line.
    Corrupt,
    /// The other side speaks another version.
    OtherProtocol(u8),
    /// The checksum fits and the message cannot be read.
    Unreadable,
}

/// A frame's body that arrived as it was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FrameBody<'a> {
    /// What it carries.
    pub kind: FrameKind,
    /// What comes behind the kind, without the checksum.
    pub rest: &'a [u8],
    /// What a seal is over: all before it, from the protocol byte on.
    signed: &'a [u8],
}

/// Encloses a message in a frame: how many bytes of `frame` it takes, the final zero included.
/// `None` if the message does not fit; none of ours is too long, and a test says so. With a
/// sequence number comes the key that seals it.
pub fn encode_frame(
    kind: FrameKind,
    sealed: Option<(u32, &SessionKey)>,
    message: &impl Serialize,
    frame: &mut [u8; FRAME_BYTES_MAX],
) -> Option<usize> {
    let mut bytes = [0; BODY_BYTES_MAX];
    let mut body = ByteBuffer::new(&mut bytes);
    body.extend(&[PROTOCOL, kind.byte()])?;
    if let Some((sequence, _)) = sealed {
        body.extend(&sequence.to_le_bytes())?;
    }
    body.encode(message)?;
    finish_frame(body, sealed.map(|(_, seal)| seal), frame)
}

/// Seal, checksum, COBS and the zero: once in an image, whatever the message is, and as generic
/// code compiled as the image wants it.
#[inline(never)]
fn finish_frame<const N: usize>(
    mut body: ByteBuffer<'_>,
    seal: Option<&SessionKey>,
    frame: &mut [u8; N],
) -> Option<usize> {
    if let Some(seal) = seal {
        let tag = seal.seal(body.filled());
        body.extend(&tag)?;
    }
    let sum = CRC.checksum(body.filled());
    body.extend(&sum.to_le_bytes())?;
    let coded = cobs::try_encode(body.filled(), frame).ok()?;
    *frame.get_mut(coded)? = 0;
    coded.checked_add(1)
}

/// Opens a frame in place; `frame` is what stood between two zeros.
///
/// # Errors
/// Why it is none.
#[inline]
pub fn decode_frame(frame: &mut [u8]) -> Result<FrameBody<'_>, FrameError> {
    let length = decode_cobs(frame).ok_or(FrameError::Corrupt)?;
    let decoded = frame.get(..length).ok_or(FrameError::Corrupt)?;
    let cut = length.checked_sub(CRC_BYTES).ok_or(FrameError::Corrupt)?;
    let (signed, sum) = decoded.split_at_checked(cut).ok_or(FrameError::Corrupt)?;
    if CRC.checksum(signed).to_le_bytes() != *sum {
        return Err(FrameError::Corrupt);
    }
    let (head, rest) = signed.split_at_checked(HEAD_BYTES).ok_or(FrameError::Corrupt)?;
    let [protocol, kind] = head else { return Err(FrameError::Corrupt) };
    if *protocol != PROTOCOL {
        return Err(FrameError::OtherProtocol(*protocol));
    }
    let kind = FrameKind::ALL.into_iter().find(|known| known.byte() == *kind);
    Ok(FrameBody { kind: kind.ok_or(FrameError::Unreadable)?, rest, signed })
}

/// COBS, undone in place, byte by byte: the crate's own function for a whole frame indexes, and
/// a device has no room for a panic.
#[inline]
fn decode_cobs(frame: &mut [u8]) -> Option<usize> {
    let mut decoder = DecoderState::default();
    let mut used = 0usize;
    for index in 0..frame.len() {
        match decoder.feed(*frame.get(index)?).ok()? {
            DecodeResult::NoData | DecodeResult::DataStart => {}
            DecodeResult::DataContinue(byte) => {
                *frame.get_mut(used)? = byte;
                used = used.checked_add(1)?;
            }
            // A zero inside: two frames.
            DecodeResult::DataComplete => return None,
        }
    }
    matches!(decoder.feed(0), Ok(DecodeResult::DataComplete)).then_some(used)
}

impl<'a> FrameBody<'a> {
    /// The message of an unsealed frame.
    ///
    /// # Errors
    /// [`Broken::Unknown`] if it cannot be read to its last byte.
    pub fn message<T: Deserialize<'a>>(&self) -> Result<T, FrameError> {
        decode_exact(self.rest)
    }
}

/// The sequence number and the message of a sealed frame, if the seal is this session's.
///
/// # Errors
/// `None` for a seal that is not; else why the message cannot be read.
pub fn decode_sealed<'a, T: Deserialize<'a>>(
    body: &FrameBody<'a>,
    seal: &SessionKey,
) -> Result<(u32, T), Option<FrameError>> {
    let short = Some(FrameError::Unreadable);
    let cut = body.signed.len().checked_sub(SEAL_BYTES).ok_or(short)?;
    let (signed, tag) = body.signed.split_at_checked(cut).ok_or(short)?;
    if !seal.verifies(signed, tag) {
        return Err(None);
    }
    let rest = signed.get(HEAD_BYTES..).ok_or(short)?;
    let (sequence, message) = rest.split_first_chunk::<SEQUENCE_BYTES>().ok_or(short)?;
    Ok((u32::from_le_bytes(*sequence), decode_exact(message).map_err(Some)?))
}

/// A message that takes all of the bytes.
fn decode_exact<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Result<T, FrameError> {
    match postcard::take_from_bytes(bytes) {
        Ok((message, [])) => Ok(message),
        Ok(_) | Err(_) => Err(FrameError::Unreadable),
    }
}
