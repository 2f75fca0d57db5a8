//! What a transaction needs of the world.

use std::time::Duration;

use saggar_device::wire::NONCE_BYTES;

use super::{LinkError, Transaction};

/// A link to a device, with a clock and a source of random numbers. [`super::PortLink`] takes them
/// from this machine; the tests simulate them.
pub trait Link {
    /// Time since the link was made.
    fn now(&self) -> Duration;

    /// Runs a transaction to its end; opens the connection first if it is closed.
    ///
    /// # Errors
    /// Why the transaction failed.
    fn run<T: Transaction>(&mut self, transaction: &mut T) -> Result<T::Output, LinkError>;

    /// Closes the connection, so that other programs can have the port. The next transaction opens
    /// another one.
    fn close(&mut self);

    /// Waits.
    fn sleep(&mut self, wait: Duration);

    /// An unpredictable number.
    ///
    /// # Errors
    /// The system has no random numbers.
    fn random_nonce(&mut self) -> Result<[u8; NONCE_BYTES], LinkError>;
}
