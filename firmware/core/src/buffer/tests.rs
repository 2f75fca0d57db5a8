//! The writer against postcard's own.

use super::*;

#[test]
fn writes_what_postcard_writes_as_far_as_there_is_room() {
    let message = (300u16, true, [1u8, 2], Some(-5i32), "end");
    let mut theirs = [0; 16];
    let theirs = postcard::to_slice(&message, &mut theirs).unwrap();
    for length in 0..16 {
        let mut bytes = [0; 16];
        let mut room = ByteBuffer::new(&mut bytes[..length]);
        let fits = room.encode(&message).is_some();
        assert_eq!(fits, length >= theirs.len());
        let written = room.filled();
        assert!(theirs.starts_with(written) && (!fits || written == theirs));
    }
}
