//! Frames around any bytes, and the bytes in a frame.

use saggar_core::checksum::CRC;

/// What is in a frame, without its checksum.
pub(super) fn body(frame: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0; frame.len()];
    let used = cobs::decode(&frame[..frame.len() - 1], &mut bytes).unwrap().frame_size();
    bytes.truncate(used - 4);
    bytes
}

/// A frame with a good checksum around any bytes.
pub(super) fn framed(body: &[u8]) -> Vec<u8> {
    let mut bytes = body.to_vec();
    bytes.extend(CRC.checksum(body).to_le_bytes());
    coded(&bytes)
}

/// A frame around any bytes, as they are.
pub(super) fn coded(bytes: &[u8]) -> Vec<u8> {
    let mut room = vec![0; cobs::max_encoding_length(bytes.len()) + 1];
    let used = cobs::encode(bytes, &mut room);
    room.truncate(used + 1);
    room
}
