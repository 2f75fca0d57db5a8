//! [`ByteBuffer`] against postcard's own slice flavor.

use super::*;

#[test]
fn writes_the_bytes_of_postcard_up_to_the_capacity() {
    let message = (300u16, true, [1u8, 2], Some(-5i32), "end");
    let mut expected = [0; 16];
    let expected = postcard::to_slice(&message, &mut expected).unwrap();
    for length in 0..16 {
        let mut bytes = [0; 16];
        let mut buffer = ByteBuffer::new(&mut bytes[..length]);
        let fits = buffer.encode(&message).is_some();
        assert_eq!(fits, length >= expected.len());
        let written = buffer.filled();
        assert!(expected.starts_with(written) && (!fits || written == expected));
    }
}
