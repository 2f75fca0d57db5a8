//! The digest by which host and device check that they mean the same furnace.

use postcard::ser_flavors::Flavor;
use sha2::{Digest, Sha256};

use super::Furnace;

/// Maximum length of the furnace data in postcard encoding (bytes).
pub const FURNACE_BYTES_MAX: usize = 352;

/// Hashes the bytes as they are encoded, so that no buffer is needed.
struct Hashing<'a>(&'a mut Sha256);

impl Flavor for Hashing<'_> {
    type Output = ();

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        self.try_extend(&[byte])
    }

    fn try_extend(&mut self, bytes: &[u8]) -> postcard::Result<()> {
        self.0.update(bytes);
        Ok(())
    }

    fn finalize(self) -> postcard::Result<()> {
        Ok(())
    }
}

impl Furnace {
    /// SHA-256 (FIPS 180-4) of the furnace data in postcard encoding.
    pub fn digest(&self) -> [u8; 32] {
        let mut hash = Sha256::new();
        // Cannot fail: the hash accepts every byte, and the lists know their lengths.
        let _ = postcard::serialize_with_flavor(self, Hashing(&mut hash));
        hash.finalize().into()
    }
}
