//! The session that lets a client give orders, sealed with a key that both sides derive from the
//! device's key.

use saggar_device::wire::seal::{DeviceKey, SessionKey};
use saggar_device::wire::{Hello, NONCE_BYTES, Refusal};

use super::LinkError;

/// The most unacknowledged orders, whatever window a device announces.
const WINDOW_MAX: u8 = 8;

/// A session opened by a hello, for one sequence of orders.
#[derive(Clone, Debug)]
pub struct Session {
    /// The client's nonce, to repeat the hello with.
    pub(super) client_nonce: [u8; NONCE_BYTES],
    pub(super) seal: SessionKey,
    pub(super) window: u32,
}

impl Session {
    /// The session that this hello opened.
    ///
    /// # Errors
    /// The device has no key, or cannot count its boots.
    pub fn of(
        hello: &Hello,
        client_nonce: &[u8; NONCE_BYTES],
        key: &DeviceKey,
    ) -> Result<Self, LinkError> {
        if !hello.has_key {
            return Err(LinkError::Refused(Refusal::NoKey));
        }
        if hello.nonce == [0; NONCE_BYTES] {
            return Err(LinkError::Refused(Refusal::NoBootCounter));
        }
        let seal = key.session_key(&hello.device, &hello.nonce, client_nonce);
        Ok(Self {
            client_nonce: *client_nonce,
            seal,
            window: u32::from(hello.window.clamp(1, WINDOW_MAX)),
        })
    }
}
