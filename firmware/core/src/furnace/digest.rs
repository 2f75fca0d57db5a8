//! The name by which desk and device know that they mean the same furnace.

use postcard::ser_flavors::Flavor;
use sha2::{Digest, Sha256};

use super::Furnace;

/// Most bytes of an encoded furnace (postcard).
pub const FURNACE_BYTES_MAX: usize = 282;

/// Takes encoded bytes straight into a hash, so that nobody holds them.
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
    /// SHA-256 (FIPS 180-4) of the furnace's postcard bytes, at most [`FURNACE_BYTES_MAX`].
    pub fn digest(&self) -> [u8; 32] {
        let mut hash = Sha256::new();
        // The hash takes every byte, and the lists know their length: nothing here can fail.
        let _ = postcard::serialize_with_flavor(self, Hashing(&mut hash));
        hash.finalize().into()
    }
}
