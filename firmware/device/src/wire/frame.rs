//! Frames: COBS keeps the byte 0 for the end of a frame, CRC-32 detects damage on the link.

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

/// Most bytes before COBS, set by a [`super::Origin`] with the longest snapshot.
pub const BODY_BYTES_MAX: usize = 592;

/// Most bytes of a frame on the link: COBS adds one, and one for every 254, and the final zero.
pub const FRAME_BYTES_MAX: usize = BODY_BYTES_MAX + 3 + 1;

/// Kind of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameKind {
    /// A query of the client.
    Query,
    /// A sealed order of the client.
    Order,
    /// An unsealed message of the device.
    Notice,
    /// The device's sealed answer to an order.
    Answer,
}

impl FrameKind {
    const ALL: [Self; 4] = [Self::Query, Self::Order, Self::Notice, Self::Answer];

    /// Its byte in a frame.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Query => 1,
            Self::Order => 2,
            Self::Notice => 3,
            Self::Answer => 4,
        }
    }
}

/// Why a frame cannot be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrameError {
    /// Too short, too long, bad COBS, or a wrong checksum: damaged on the link.
    Corrupt,
    /// The other side speaks another version of the protocol.
    OtherProtocol(u8),
    /// The checksum is right, but the kind or the message cannot be decoded.
    Unreadable,
}

/// The body of a frame that arrived undamaged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FrameBody<'a> {
    /// Its kind.
    pub kind: FrameKind,
    /// The bytes behind the kind, without the checksum.
    pub rest: &'a [u8],
    /// All bytes from the protocol byte on, without the checksum.
    signed: &'a [u8],
}

/// Encodes a message as a frame and returns its length, final zero included. `None` if it does not
/// fit, which a test rules out for our messages. Orders and answers are sealed: they come with
/// their sequence number and the session's key.
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
    finish_frame(body, sealed.map(|(_, key)| key), frame)
}

/// Adds seal, checksum, COBS and the final zero. Not inlined, so that an image has it once for all
/// types of message; generic, so that it is compiled with the image's own optimisation.
#[inline(never)]
fn finish_frame<const N: usize>(
    mut body: ByteBuffer<'_>,
    key: Option<&SessionKey>,
    frame: &mut [u8; N],
) -> Option<usize> {
    if let Some(key) = key {
        let seal = key.seal(body.filled());
        body.extend(&seal)?;
    }
    let sum = CRC.checksum(body.filled());
    body.extend(&sum.to_le_bytes())?;
    let coded = cobs::try_encode(body.filled(), frame).ok()?;
    *frame.get_mut(coded)? = 0;
    coded.checked_add(1)
}

/// Decodes a frame in place; `frame` is what was between two zeros.
///
/// # Errors
/// [`FrameError`]
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

/// Decodes COBS in place, byte by byte: the crate's function for a whole frame indexes and could
/// panic.
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
            // A zero inside a frame.
            DecodeResult::DataComplete => return None,
        }
    }
    matches!(decoder.feed(0), Ok(DecodeResult::DataComplete)).then_some(used)
}

impl<'a> FrameBody<'a> {
    /// The message of an unsealed frame.
    ///
    /// # Errors
    /// [`FrameError::Unreadable`] if it cannot be decoded, or bytes are left over.
    pub fn message<T: Deserialize<'a>>(&self) -> Result<T, FrameError> {
        decode_exact(self.rest)
    }
}

/// The sequence number and the message of a sealed frame, if this key made the seal.
///
/// # Errors
/// `None` for another key's seal; otherwise why the message cannot be decoded.
pub fn decode_sealed<'a, T: Deserialize<'a>>(
    body: &FrameBody<'a>,
    key: &SessionKey,
) -> Result<(u32, T), Option<FrameError>> {
    let short = Some(FrameError::Unreadable);
    let cut = body.signed.len().checked_sub(SEAL_BYTES).ok_or(short)?;
    let (signed, seal) = body.signed.split_at_checked(cut).ok_or(short)?;
    if !key.verifies(signed, seal) {
        return Err(None);
    }
    let rest = signed.get(HEAD_BYTES..).ok_or(short)?;
    let (sequence, message) = rest.split_first_chunk::<SEQUENCE_BYTES>().ok_or(short)?;
    Ok((u32::from_le_bytes(*sequence), decode_exact(message).map_err(Some)?))
}

/// Decodes a message that takes up all of the bytes.
fn decode_exact<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Result<T, FrameError> {
    match postcard::take_from_bytes(bytes) {
        Ok((message, [])) => Ok(message),
        Ok(_) | Err(_) => Err(FrameError::Unreadable),
    }
}
