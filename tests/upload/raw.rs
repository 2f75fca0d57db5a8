//! Frames around arbitrary bytes, and the bytes in a frame.

use saggar_core::checksum::CRC;

/// The body of a frame.
pub(super) fn body(frame: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0; frame.len()];
    let used =
        cobs::decode(&frame[..frame.len() - 1], &mut bytes).expect("a frame").frame_size();
    bytes.truncate(used - 4);
    bytes
}

/// A frame with a right checksum around arbitrary bytes.
pub(super) fn framed(body: &[u8]) -> Vec<u8> {
    let mut bytes = body.to_vec();
    bytes.extend(CRC.checksum(body).to_le_bytes());
    coded(&bytes)
}

/// COBS and the final zero around arbitrary bytes.
pub(super) fn coded(bytes: &[u8]) -> Vec<u8> {
    let mut room = vec![0; cobs::max_encoding_length(bytes.len()) + 1];
    let used = cobs::encode(bytes, &mut room);
    room.truncate(used + 1);
    room
}

/// Whether a frame's COBS and checksum are right.
pub(super) fn is_whole(frame: &[u8]) -> bool {
    let Some((0, inside)) = frame.split_last() else { return false };
    let mut bytes = vec![0; frame.len()];
    let Ok(report) = cobs::decode(inside, &mut bytes) else { return false };
    bytes.truncate(report.frame_size());
    let Some((covered, sum)) = bytes.split_last_chunk::<4>() else { return false };
    report.parsed_size() == inside.len() && CRC.checksum(covered).to_le_bytes() == *sum
}
