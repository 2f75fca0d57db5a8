//! The code that a person compares: eight digits that are the same on a device's display and at
//! the desk only if both mean the same programme.
//!
//! Somebody who holds the device's key may stand between desk and device and say anything to
//! either. So the code is made of the whole digest and of two numbers that each side draws for
//! itself: the desk pledges its number (a hash of it) when the programme is in flash already, the
//! device then draws its own, and only then the desk reveals what it pledged. Nobody in between
//! knows the code of either side while anything can still be chosen, so that two codes for
//! different programmes agree with a probability of 1 in 10⁸. A device allows one try a commit,
//! and announces every commit. (The exchange is that of short authentication strings, Vaudenay,
//! CRYPTO 2005; value from memory.)

use saggar_core::programme::DIGEST_BYTES;
use sha2::{Digest as _, Sha256};

/// Bytes of the number that each side draws.
pub const RANDOM_BYTES: usize = 16;

/// Codes are below this: they have eight digits.
const CODE_LIMIT: u32 = 100_000_000;

/// What a desk says of its number before it says the number.
pub fn pledge(number: &[u8; RANDOM_BYTES]) -> [u8; DIGEST_BYTES] {
    Sha256::new().chain_update(b"saggar pledge").chain_update(number).finalize().into()
}

/// The code of a programme, from its digest and both sides' numbers: below 10⁸.
pub fn comparison_code(
    programme: &[u8; DIGEST_BYTES],
    device: &[u8; RANDOM_BYTES],
    desk: &[u8; RANDOM_BYTES],
) -> u32 {
    let hash = Sha256::new()
        .chain_update(b"saggar code")
        .chain_update(programme)
        .chain_update(device)
        .chain_update(desk)
        .finalize();
    let first = hash.first_chunk().copied().unwrap_or_default();
    u32::from_le_bytes(first).checked_rem(CODE_LIMIT).unwrap_or(0)
}
