//! What carries exchanges to a device and back.

use std::time::Duration;

use saggar_device::wire::NONCE_BYTES;

use super::{LinkError, Transaction};

/// All that an exchange needs of the world: a connection, a clock, chance. [`super::Line`] has them
/// of this machine; the tests have simulated ones.
pub trait Link {
    /// Time since the carrier was made.
    fn now(&self) -> Duration;

    /// Runs an exchange to its end; opens the connection first if it is closed.
    ///
    /// # Errors
    /// Why it came to nothing.
    fn run<E: Transaction>(&mut self, exchange: &mut E) -> Result<E::Output, LinkError>;

    /// Closes the connection; others may have the port then. The next exchange opens another one.
    fn close(&mut self);

    /// Waits.
    fn sleep(&mut self, wait: Duration);

    /// A number that nobody can foresee.
    ///
    /// # Errors
    /// The system has none.
    fn random_nonce(&mut self) -> Result<[u8; NONCE_BYTES], LinkError>;
}
