//! A byte buffer for postcard messages. postcard's own slice flavor inlines its bounds check at
//! every write, which makes up most of an encoder's code size; this one calls a function instead.

use postcard::ser_flavors::Flavor;
use postcard::{Error, Result, serialize_with_flavor};
use serde::Serialize;

#[cfg(test)]
mod tests;

/// A borrowed byte slice that is filled from the start.
pub struct ByteBuffer<'a> {
    bytes: &'a mut [u8],
    used: usize,
}

impl<'a> ByteBuffer<'a> {
    /// An empty buffer over these bytes.
    pub const fn new(bytes: &'a mut [u8]) -> Self {
        Self { bytes, used: 0 }
    }

    /// Appends bytes. Returns `None`, and appends nothing, if they do not fit.
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

    /// Appends a message in postcard encoding. Returns `None` if it does not fit.
    pub fn encode(&mut self, message: &impl Serialize) -> Option<()> {
        serialize_with_flavor(message, BufferFlavor(self)).ok()
    }

    /// The bytes written so far.
    pub fn filled(&self) -> &[u8] {
        self.bytes.get(..self.used).unwrap_or(&[])
    }
}

/// postcard consumes its flavor, so it gets this wrapper instead of the buffer itself.
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
