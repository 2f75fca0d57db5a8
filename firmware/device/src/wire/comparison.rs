//! The comparison code: eight digits on the device's display and at the client, which are the same
//! only if both mean the same programme.
//!
//! An attacker who holds the device's key may sit between client and device and alter everything
//! that either receives. So the code is made of the whole digest and of a random number from each
//! side: once the programme is in flash, the client pledges its number by sending a hash of it, the
//! device draws its own, and only then does the client reveal what it pledged. Nobody in between
//! knows either code while there is still something to choose, so the codes of two different
//! programmes agree with a probability of 1 in 10⁸. A device allows one try per commit and announces
//! every commit. (The exchange is that of short authentication strings, Vaudenay,
//! CRYPTO 2005; value from memory.)

use saggar_core::programme::DIGEST_BYTES;
use sha2::{Digest as _, Sha256};

/// Bytes of the random number that each side draws.
pub const RANDOM_BYTES: usize = 16;

/// Codes are below this, so that they have eight digits.
const CODE_LIMIT: u32 = 100_000_000;

/// The hash that a client sends before it reveals its number.
pub fn pledge(number: &[u8; RANDOM_BYTES]) -> [u8; DIGEST_BYTES] {
    Sha256::new().chain_update(b"saggar pledge").chain_update(number).finalize().into()
}

/// The code for a programme, from its digest and both random numbers: below 10⁸.
pub fn comparison_code(
    programme: &[u8; DIGEST_BYTES],
    device: &[u8; RANDOM_BYTES],
    client: &[u8; RANDOM_BYTES],
) -> u32 {
    let hash = Sha256::new()
        .chain_update(b"saggar code")
        .chain_update(programme)
        .chain_update(device)
        .chain_update(client)
        .finalize();
    let first = hash.first_chunk().copied().unwrap_or_default();
    u32::from_le_bytes(first).checked_rem(CODE_LIMIT).unwrap_or(0)
}
