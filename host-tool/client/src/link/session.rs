//! The session that lets a desk give orders: a seal that both sides make of the device's key.

use saggar_device::wire::seal::{DeviceKey, SessionKey};
use saggar_device::wire::{Hello, NONCE_BYTES, Refusal};

use super::LinkError;

/// Orders that are under way at once, whatever a device says of itself.
const WINDOW_MAX: u8 = 8;

/// A session that a greeting opened. Good for one run of orders.
#[derive(Clone, Debug)]
pub struct Session {
    /// The desk's number, to greet with once more.
    pub(super) client_nonce: [u8; NONCE_BYTES],
    pub(super) seal: SessionKey,
    pub(super) window: u32,
}

impl Session {
    /// The session of this greeting.
    ///
    /// # Errors
    /// The device has no key, or cannot count its sessions.
    pub fn of(
        hello: &Hello,
        desk: &[u8; NONCE_BYTES],
        key: &DeviceKey,
    ) -> Result<Self, LinkError> {
        if !hello.has_key {
            return Err(LinkError::Refused(Refusal::NoKey));
        }
        if hello.nonce == [0; NONCE_BYTES] {
            return Err(LinkError::Refused(Refusal::NoBootCounter));
        }
        let seal = key.session_key(&hello.device, &hello.nonce, desk);
        Ok(Self {
            client_nonce: *desk,
            seal,
            window: u32::from(hello.window.clamp(1, WINDOW_MAX)),
        })
    }
}
