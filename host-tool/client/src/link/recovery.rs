//! What came of an upload or a stop, though the line may fail before the device can say so.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Refusal;
use saggar_device::wire::seal::DeviceKey;
use sha2::{Digest as _, Sha256};

use super::{Client, FetchTarget, Link, LinkError, Task, UnansweredOrder};

/// Waits before each further connection: a device that comes up anew, or another program that has
/// the line for a moment, takes as long (s).
const UPLOAD_RETRY_WAITS_S: [u64; 4] = [1, 2, 4, 8];

/// The same for a stop (s). Whoever gives one should soon know that the button is needed.
const STOP_RETRY_WAITS_S: [u64; 2] = [1, 1];

/// How it is known that a programme is the active one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UploadOutcome {
    /// The device answered the last order.
    Acknowledged,
    /// The device said so when it was asked again; this is why it was.
    FoundActive(LinkError),
}

/// What came of reading a programme back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadBack {
    /// These bytes.
    Bytes(Vec<u8>),
    /// Nothing, for the line's sake.
    Unavailable(LinkError),
}

impl<C: Link> Client<C> {
    /// Makes these bytes the active programme; `furnace` is the digest of the data for which they
    /// were cleared.
    ///
    /// # Errors
    /// Why the programme from before is still the active one, or why nobody knows which is.
    pub fn upload(
        &mut self,
        programme: &[u8],
        furnace: [u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<UploadOutcome, LinkError> {
        let undone = match self.order(Task::Upload { programme, furnace }, key) {
            Ok(_) => return Ok(UploadOutcome::Acknowledged),
            Err(undone) => undone,
        };
        if !undone.last_order_sent {
            return Err(undone.cause);
        }
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
        let taken =
            self.with_reconnects(&UPLOAD_RETRY_WAITS_S, |desk| desk.is_active(&digest, key));
        match (taken, undone.cause) {
            (Ok(true), why) => Ok(UploadOutcome::FoundActive(why)),
            (Ok(false), why @ LinkError::Refused(_)) => Err(why),
            (Ok(false), why) => Err(LinkError::NotActivated(Box::new(why))),
            // It says itself that nothing has changed.
            (Err(_), why) if undone.refused => Err(why),
            (Err(_), why) => {
                Err(LinkError::OutcomeUnknown(UnansweredOrder::Upload, Box::new(why)))
            }
        }
    }

    /// Ends the firing.
    ///
    /// # Errors
    /// Why it was not ended, or why nobody knows whether it was.
    pub fn stop(&mut self, key: &DeviceKey) -> Result<(), LinkError> {
        let mut sent = false;
        let stopped = self.with_reconnects(&STOP_RETRY_WAITS_S, |desk| {
            desk.order(Task::Stop, key).map_err(|undone| {
                sent |= undone.last_order_sent;
                undone.cause
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

    /// Reads the active programme, over other connections if need be.
    ///
    /// # Errors
    /// What is wrong with it or the device.
    pub fn read_back(&mut self) -> Result<ReadBack, LinkError> {
        let read = self.with_reconnects(&UPLOAD_RETRY_WAITS_S, |desk| {
            desk.greet()?;
            desk.fetch(FetchTarget::Programme)
        });
        match read {
            Ok(bytes) => Ok(ReadBack::Bytes(bytes)),
            Err(why) if why.is_connection_failure() => Ok(ReadBack::Unavailable(why)),
            Err(why) => Err(why),
        }
    }

    /// Whether this is the active programme, for good: nothing that is under way changes it.
    fn is_active(
        &mut self,
        digest: &[u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<bool, LinkError> {
        self.greet()?;
        if self.hello.programme.as_ref() == Some(digest) {
            return Ok(true);
        }
        // The last order may still be under way. In a new session it is worth nothing.
        match self.order(Task::InvalidateOlder, key).map_err(|undone| undone.cause) {
            Ok(_) | Err(LinkError::Refused(Refusal::OutOfOrder | Refusal::FiringRunning)) => {}
            Err(why) => return Err(why),
        }
        self.greet()?;
        Ok(self.hello.programme.as_ref() == Some(digest))
    }

    /// Does something that may be done twice, over another connection each time that the line
    /// fails, and after each of these waits.
    fn with_reconnects<T>(
        &mut self,
        waits_s: &[u64],
        mut what: impl FnMut(&mut Self) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let mut outcome = what(self);
        for wait_s in waits_s {
            match &outcome {
                Err(why) if why.is_connection_failure() => {
                    if let Some(tell) = &mut self.on_retry {
                        tell(why);
                    }
                }
                Ok(_) | Err(_) => break,
            }
            self.close();
            self.link.sleep(Duration::from_secs(*wait_s));
            outcome = what(self);
        }
        outcome
    }
}
