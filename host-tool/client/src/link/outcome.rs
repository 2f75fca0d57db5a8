//! What came of an upload or a stop, though the line may fail before the device can say so.

use std::time::Duration;

use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Refusal;
use saggar_device::wire::seal::DeviceKey;
use sha2::{Digest as _, Sha256};

use super::{Carrier, Deed, Desk, Failed, Task, What};

/// Waits before each further connection: a device that comes up anew, or another program that has
/// the line for a moment, takes as long (s).
const UPLOAD_WAITS: [u64; 4] = [1, 2, 4, 8];

/// The same for a stop (s). Whoever gives one should soon know that the button is needed.
const STOP_WAITS: [u64; 2] = [1, 1];

/// How it is known that a programme is the active one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Arrived {
    /// The device answered the last order.
    Answered,
    /// The device said so when it was asked again; this is why it was.
    AskedAgain(Failed),
}

/// What came of reading a programme back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadBack {
    /// These bytes.
    Bytes(Vec<u8>),
    /// Nothing, for the line's sake.
    Failed(Failed),
}

impl<C: Carrier> Desk<C> {
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
    ) -> Result<Arrived, Failed> {
        let undone = match self.order(Task::Upload { programme, furnace }, key) {
            Ok(_) => return Ok(Arrived::Answered),
            Err(undone) => undone,
        };
        if !undone.sent_last {
            return Err(undone.why);
        }
        let digest: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
        let taken = self.patiently(&UPLOAD_WAITS, |desk| desk.has_taken(&digest, key));
        match (taken, undone.why) {
            (Ok(true), why) => Ok(Arrived::AskedAgain(why)),
            (Ok(false), why @ Failed::Refused(_)) => Err(why),
            (Ok(false), why) => Err(Failed::NotArrived(Box::new(why))),
            // It says itself that nothing has changed.
            (Err(_), why) if undone.refused => Err(why),
            (Err(_), why) => Err(Failed::NotKnown(Deed::Upload, Box::new(why))),
        }
    }

    /// Ends the firing.
    ///
    /// # Errors
    /// Why it was not ended, or why nobody knows whether it was.
    pub fn stop(&mut self, key: &DeviceKey) -> Result<(), Failed> {
        let mut sent = false;
        let stopped = self.patiently(&STOP_WAITS, |desk| {
            desk.order(Task::Stop, key).map_err(|undone| {
                sent |= undone.sent_last;
                undone.why
            })
        });
        match stopped {
            Ok(_) => Ok(()),
            Err(why) if sent && why.is_of_the_line() => {
                Err(Failed::NotKnown(Deed::Stop, Box::new(why)))
            }
            Err(why) => Err(why),
        }
    }

    /// Reads the active programme, over other connections if need be.
    ///
    /// # Errors
    /// What is wrong with it or the device.
    pub fn read_back(&mut self) -> Result<ReadBack, Failed> {
        let read = self.patiently(&UPLOAD_WAITS, |desk| {
            desk.greet()?;
            desk.fetch(What::Programme)
        });
        match read {
            Ok(bytes) => Ok(ReadBack::Bytes(bytes)),
            Err(why) if why.is_of_the_line() => Ok(ReadBack::Failed(why)),
            Err(why) => Err(why),
        }
    }

    /// Whether this is the active programme, for good: nothing that is under way changes it.
    fn has_taken(
        &mut self,
        digest: &[u8; DIGEST_BYTES],
        key: &DeviceKey,
    ) -> Result<bool, Failed> {
        self.greet()?;
        if self.hello.programme.as_ref() == Some(digest) {
            return Ok(true);
        }
        // The last order may still be under way. In a new session it is worth nothing.
        match self.order(Task::Nothing, key).map_err(|undone| undone.why) {
            Ok(_) | Err(Failed::Refused(Refusal::OutOfOrder | Refusal::FiringRunning)) => {}
            Err(why) => return Err(why),
        }
        self.greet()?;
        Ok(self.hello.programme.as_ref() == Some(digest))
    }

    /// Does something that may be done twice, over another connection each time that the line
    /// fails, and after each of these waits.
    fn patiently<T>(
        &mut self,
        waits_s: &[u64],
        mut what: impl FnMut(&mut Self) -> Result<T, Failed>,
    ) -> Result<T, Failed> {
        let mut outcome = what(self);
        for wait_s in waits_s {
            match &outcome {
                Err(why) if why.is_of_the_line() => {
                    if let Some(tell) = &mut self.on_retry {
                        tell(why);
                    }
                }
                Ok(_) | Err(_) => break,
            }
            self.close();
            self.line.pause(Duration::from_secs(*wait_s));
            outcome = what(self);
        }
        outcome
    }
}
