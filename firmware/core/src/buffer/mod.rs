//! Room for encoded bytes. postcard's own copies the check of its end into every place that writes,
//! which are most of the bytes of a message's writer; here they call one function.

use postcard::ser_flavors::Flavor;
use postcard::{Error, Result, serialize_with_flavor};
use serde::Serialize;

#[cfg(test)]
mod tests;

/// A slice that fills up.
pub struct ByteBuffer<'a> {
    bytes: &'a mut [u8],
    used: usize,
}

impl<'a> ByteBuffer<'a> {
    /// All of it is free.
    pub const fn new(bytes: &'a mut [u8]) -> Self {
        Self { bytes, used: 0 }
    }

    /// Adds bytes; `None`, and nothing is added, if they do not fit.
    #[inline(never)]
    pub fn extend(&mut self, bytes: &[u8]) -> Option<()> {
        let to = self.used.checked_add(bytes.len())?;
        self.bytes.get_mut(self.used..to)?.copy_from_slice(bytes);
        self.used = to;
        Some(())
    }

    #[inline(never)]
    fn push(&mut self, byte: u8) -> Option<()> {
        *self.bytes.get_mut(self.used)? = byte;
        self.used = self.used.checked_add(1)?;
        Some(())
    }

    /// Adds a message as postcard; `None` if it does not fit.
    pub fn encode(&mut self, message: &impl Serialize) -> Option<()> {
        serialize_with_flavor(message, BufferFlavor(self)).ok()
    }

    /// What has been added.
    pub fn filled(&self) -> &[u8] {
        self.bytes.get(..self.used).unwrap_or(&[])
    }
}

/// postcard takes what it writes with by value.
struct BufferFlavor<'a, 'b>(&'a mut ByteBuffer<'b>);

impl Flavor for BufferFlavor<'_, '_> {
    type Output = ();

    fn try_push(&mut self, byte: u8) -> Result<()> {
        self.0.push(byte).ok_or(Error::SerializeBufferFull)
    }

    fn try_extend(&mut self, bytes: &[u8]) -> Result<()> {
        self.0.extend(bytes).ok_or(Error::SerializeBufferFull)
    }

    fn finalize(self) -> Result<()> {
        Ok(())
    }
}
