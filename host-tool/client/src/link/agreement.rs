//! The code that a person compares with the device's display: see [`saggar_device::wire`].

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, comparison_code, pledge};

use super::{Client, Link, LinkError, Task};

impl<L: Link> Client<L> {
    /// Agrees with the device on a code below 10⁸ for the programme just uploaded. `None` if its
    /// board has no random numbers. `programme` is the digest of the bytes that were sent, not what
    /// the device says it received.
    ///
    /// # Errors
    /// Why there is no code. The person can compare the digest instead.
    pub fn agree_code(
        &mut self,
        programme: &[u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<Option<u32>, LinkError> {
        let number = self.link.random_nonce()?;
        let hash = pledge(&number);
        let drawn = self.order(Task::Pledge { hash }, key).map_err(|error| error.cause)?;
        let Answer::Drawn { number: drawn } = drawn else {
            return Err(LinkError::InvalidReply("an answer to another order"));
        };
        let Some(device) = drawn else { return Ok(None) };
        // Not earlier: someone in between could choose the device's number to match.
        self.order(Task::Reveal { number }, key).map_err(|error| error.cause)?;
        Ok(Some(comparison_code(programme, &device, &number)))
    }
}
