//! The code that a person compares with the display: see [`saggar_device::wire`].

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::seal::DeviceKey;
use saggar_device::wire::{Answer, comparison_code, pledge};

use super::{Client, Link, LinkError, Task};

impl<C: Link> Client<C> {
    /// Agrees with the device on a code for the programme that was uploaded just now: below 10⁸.
    /// `None` if its board cannot draw numbers. The digest is that of the bytes here: the device's
    /// word for it is not asked.
    ///
    /// # Errors
    /// Why there is no code. The whole digest can be compared all the same.
    pub fn agree_code(
        &mut self,
        programme: &[u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<Option<u32>, LinkError> {
        let number = self.link.random_nonce()?;
        let hash = pledge(&number);
        let drawn = self.order(Task::Pledge { hash }, key).map_err(|undone| undone.cause)?;
        let Answer::Drawn { number: drawn } = drawn else {
            return Err(LinkError::InvalidReply("an answer to another order"));
        };
        let Some(device) = drawn else { return Ok(None) };
        // Said only now: before, whoever is in between could choose the other number to fit.
        self.order(Task::Reveal { number }, key).map_err(|undone| undone.cause)?;
        Ok(Some(comparison_code(programme, &device, &number)))
    }
}
