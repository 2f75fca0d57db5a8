//! Uploads and stops that survive a lost connection: after it, the device is asked what it did.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Refusal;
use saggar_device::wire::seal::DeviceKey;
use sha2::{Digest as _, Sha256};

use super::{Client, FetchTarget, Link, LinkError, Task, UnansweredOrder};

/// Waits before each new connection (s): long enough for a device to restart, or for another
/// program to release the port.
const UPLOAD_RETRY_WAITS_S: [u64; 4] = [1, 2, 4, 8];

/// Waits for a stop (s): short, because the user has to know soon that the button is needed.
const STOP_RETRY_WAITS_S: [u64; 2] = [1, 1];

/// How we know that an uploaded programme is active.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UploadOutcome {
    /// The device acknowledged the last order.
    Acknowledged,
    /// No acknowledgement came, for this reason; the device named the programme when asked later.
    FoundActive(LinkError),
}

/// Result of reading a programme back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadBack {
    /// Its bytes.
    Bytes(Vec<u8>),
    /// The connection failed.
    Unavailable(LinkError),
}

impl<L: Link> Client<L> {
    /// Makes these bytes the active programme. `furnace` is the digest of the furnace data that they
    /// were cleared for.
    ///
    /// # Errors
    /// Why the old programme is still active, or why it is unknown which one is.
    pub fn upload(
        &mut self,
        programme: &[u8],
        furnace: [u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<UploadOutcome, LinkError> {
        let error = match self.order(Task::Upload { programme, furnace }, key) {
            Ok(_) => return Ok(UploadOutcome::Acknowledged),
            Err(error) => error,
        };
        if !error.last_order_sent {
            return Err(error.cause);
        }
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
        let is_active = self
            .with_reconnects(&UPLOAD_RETRY_WAITS_S, |client| client.is_active(&digest, key));
        match (is_active, error.cause) {
            (Ok(true), why) => Ok(UploadOutcome::FoundActive(why)),
            (Ok(false), why @ LinkError::Refused(_)) => Err(why),
            (Ok(false), why) => Err(LinkError::NotActivated(Box::new(why))),
            // A sealed refusal: nothing has changed.
            (Err(_), why) if error.refused => Err(why),
            (Err(_), why) => {
                Err(LinkError::OutcomeUnknown(UnansweredOrder::Upload, Box::new(why)))
            }
        }
    }

    /// Stops the firing.
    ///
    /// # Errors
    /// Why it was not stopped, or why that is unknown.
    pub fn stop(&mut self, key: &DeviceKey) -> Result<(), LinkError> {
        let mut sent = false;
        let stopped = self.with_reconnects(&STOP_RETRY_WAITS_S, |client| {
            client.order(Task::Stop, key).map_err(|error| {
                sent |= error.last_order_sent;
                error.cause
            })
        });
        match stopped {
            Ok(_) => Ok(()),
            Err(why) if sent && why.is_connection_failure() => {
                Err(LinkError::OutcomeUnknown(UnansweredOrder::Stop, Box::new(why)))
            }
            Err(why) => Err(why),
        }
    }

    /// Reads the active programme, reconnecting if need be.
    ///
    /// # Errors
    /// The device sends something invalid.
    pub fn read_back(&mut self) -> Result<ReadBack, LinkError> {
        let read = self.with_reconnects(&UPLOAD_RETRY_WAITS_S, |client| {
            client.greet()?;
            client.fetch(FetchTarget::Programme)
        });
        match read {
            Ok(bytes) => Ok(ReadBack::Bytes(bytes)),
            Err(why) if why.is_connection_failure() => Ok(ReadBack::Unavailable(why)),
            Err(why) => Err(why),
        }
    }

    /// Whether this is the active programme, and no order still on its way can change that.
    fn is_active(
        &mut self,
        digest: &[u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<bool, LinkError> {
        self.greet()?;
        if self.hello.programme.as_ref() == Some(digest) {
            return Ok(true);
        }
        // The last order may still be on its way. A new session makes its seal invalid.
        match self.order(Task::InvalidateOlder, key).map_err(|error| error.cause) {
            Ok(_) | Err(LinkError::Refused(Refusal::OutOfOrder | Refusal::FiringRunning)) => {}
            Err(why) => return Err(why),
        }
        self.greet()?;
        Ok(self.hello.programme.as_ref() == Some(digest))
    }

    /// Runs an action that may be repeated, again over a new connection after each of these waits
    /// while the connection fails.
    fn with_reconnects<T>(
        &mut self,
        waits_s: &[u64],
        mut action: impl FnMut(&mut Self) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let mut outcome = action(self);
        for wait_s in waits_s {
            match &outcome {
                Err(why) if why.is_connection_failure() => {
                    if let Some(on_retry) = &mut self.on_retry {
                        on_retry(why);
                    }
                }
                Ok(_) | Err(_) => break,
            }
            self.close();
            self.link.sleep(Duration::from_secs(*wait_s));
            outcome = action(self);
        }
        outcome
    }
}
