//! The seal of orders and answers: HMAC-SHA256 (RFC 2104, FIPS 198-1), truncated to 128 bits, under a
//! key derived for each session.
//!
//! The device's key never crosses the link. Both sides derive the session's key from it, from the
//! device's nonce, with which no session was opened before, and from the client's:
//!
//! ```text
//! nonce   = HMAC(device key, "saggar nonce"   ‖ salt ‖ boot ‖ session)       first 128 bits
//! session = HMAC(device key, "saggar session" ‖ protocol ‖ device id ‖ nonce ‖ client's nonce)
//! seal    = HMAC(session, the frame's body before the seal)                  first 128 bits
//! ```
//!
//! `boot` is a counter in flash that is raised before it is used, so the device needs no random
//! numbers. RFC 2104, section 5, asks for at least half of the hash's length.

use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;

use super::PROTOCOL;

/// Bytes of a seal.
pub const SEAL_BYTES: usize = 16;

/// Bytes of a device's key.
pub const KEY_BYTES: usize = 32;

/// Bytes of a device id.
pub const DEVICE_ID_BYTES: usize = 8;

/// The key that device and client share. It is set at the device.
#[derive(Clone)]
pub struct DeviceKey([u8; KEY_BYTES]);

/// The key that seals the frames of one session.
#[derive(Clone)]
pub struct SessionKey([u8; KEY_BYTES]);

impl core::fmt::Debug for DeviceKey {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Key(..)")
    }
}

impl core::fmt::Debug for SessionKey {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Seal(..)")
    }
}

impl Drop for DeviceKey {
    fn drop(&mut self) {
        wipe(&mut self.0);
    }
}

impl Drop for SessionKey {
    fn drop(&mut self) {
        wipe(&mut self.0);
    }
}

/// Overwrites a secret that is dropped.
fn wipe(secret: &mut [u8; KEY_BYTES]) {
    *secret = [0; KEY_BYTES];
    // Keeps the compiler from removing the write as unused.
    core::hint::black_box(secret);
}

impl DeviceKey {
    /// The key of these bytes; `None` if they are all the same, as in memory that was never written.
    #[inline]
    pub fn new(bytes: [u8; KEY_BYTES]) -> Option<Self> {
        let first = *bytes.first()?;
        bytes.iter().any(|byte| *byte != first).then_some(Self(bytes))
    }

    /// A nonce that this device has never used before: `boot` is the boot number, `session` counts the
    /// offers since boot, and `salt` was drawn when the key was set.
    #[inline]
    pub fn nonce(&self, salt: &[u8], boot: u32, session: u32) -> [u8; SEAL_BYTES] {
        let boot = boot.to_le_bytes();
        let session = session.to_le_bytes();
        first_half(&hmac(&self.0, &[b"saggar nonce", salt, &boot, &session]))
    }

    /// The key of a session.
    #[inline]
    pub fn session_key(
        &self,
        device: &[u8; DEVICE_ID_BYTES],
        nonce: &[u8; SEAL_BYTES],
        client_nonce: &[u8; SEAL_BYTES],
    ) -> SessionKey {
        SessionKey(hmac(
            &self.0,
            &[b"saggar session", &[PROTOCOL], device, nonce, client_nonce],
        ))
    }
}

impl SessionKey {
    /// Computes the seal of these bytes.
    #[inline]
    pub fn seal(&self, bytes: &[u8]) -> [u8; SEAL_BYTES] {
        first_half(&hmac(&self.0, &[bytes]))
    }

    /// Whether this is the seal of these bytes, in constant time.
    #[inline]
    pub fn verifies(&self, bytes: &[u8], seal: &[u8]) -> bool {
        seal.len() == SEAL_BYTES && equal_in_constant_time(&self.seal(bytes), seal)
    }

    /// Whether the other is the key of the same session, in constant time.
    #[inline]
    pub fn equals(&self, other: &Self) -> bool {
        equal_in_constant_time(&self.0, &other.0)
    }
}

/// Compares as far as the shorter reaches.
#[inline]
fn equal_in_constant_time(one: &[u8], other: &[u8]) -> bool {
    let differ = one.iter().zip(other).fold(0, |all, (a, b)| all | (a ^ b));
    // Keeps the compiler from returning at the first difference.
    core::hint::black_box(differ) == 0
}

#[inline]
fn hmac(key: &[u8; KEY_BYTES], parts: &[&[u8]]) -> [u8; KEY_BYTES] {
    // HMAC takes a key of any length, so this never fails.
    let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key) else { return [0; KEY_BYTES] };
    for part in parts {
        mac.update(part);
    }
    mac.finalize().into_bytes().into()
}

fn first_half(tag: &[u8; KEY_BYTES]) -> [u8; SEAL_BYTES] {
    tag.first_chunk().copied().unwrap_or([0; SEAL_BYTES])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4231, sections 4.2 to 4.4. HMAC pads a key shorter than a block with zeros.
    #[test]
    fn hmac_agrees_with_rfc_4231() {
        let key = |bytes: &[u8]| {
            let mut key = [0; KEY_BYTES];
            key[..bytes.len()].copy_from_slice(bytes);
            key
        };
        let digest = |hex: &str| {
            core::array::from_fn(|i| u8::from_str_radix(&hex[2 * i..2 * i + 2], 16).unwrap())
        };
        let one = "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7";
        assert_eq!(hmac(&key(&[0x0b; 20]), &[b"Hi There"]), digest(one));
        let two = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843";
        assert_eq!(hmac(&key(b"Jefe"), &[b"what do ya want ", b"for nothing?"]), digest(two));
        let three = "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe";
        assert_eq!(hmac(&key(&[0xaa; 20]), &[&[0xdd; 50]]), digest(three));
    }

    #[test]
    fn key_of_unwritten_memory_is_rejected() {
        assert!(DeviceKey::new([0; KEY_BYTES]).is_none());
        assert!(DeviceKey::new([0xff; KEY_BYTES]).is_none());
    }

    #[test]
    fn seal_of_wrong_length_is_rejected() {
        let key = SessionKey([7; KEY_BYTES]);
        let seal = key.seal(b"x");
        assert!(key.verifies(b"x", &seal));
        assert!(!key.verifies(b"x", &seal[..15]));
        assert!(!key.verifies(b"x", &[]));
        let mut longer = [0; SEAL_BYTES + 1];
        longer[..SEAL_BYTES].copy_from_slice(&seal);
        assert!(!key.verifies(b"x", &longer));
    }
}
