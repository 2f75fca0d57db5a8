//! A transaction with a device: a state machine that knows neither port nor clock.

use std::time::Duration;

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody};

use super::LinkError;

/// Attempts before a transaction fails for lack of an answer.
pub(super) const ATTEMPTS_MAX: u32 = 3;

/// How long an answer may take.
#[derive(Clone, Copy, Debug)]
pub struct Timeouts {
    /// For the answer to a query, or to a chunk of a programme.
    pub answer: Duration,
    /// For the answer to an order that erases or writes flash.
    pub flash: Duration,
    /// Time that the longest frame takes on the link.
    pub frame_time: Duration,
}

/// Bits per byte on a serial link: start bit, eight data bits, stop bit.
const BITS_PER_BYTE: u32 = 10;

/// Frames that may be ahead of an answer on the link.
const FRAMES_IN_FLIGHT_MAX: u32 = 10;

impl Timeouts {
    /// Timeouts at this rate (bit/s): a second for the device, plus the time that the frames ahead
    /// of the answer take on the link.
    pub fn for_baud(baud: u32) -> Self {
        let bytes = u32::try_from(FRAME_BYTES_MAX).unwrap_or(u32::MAX);
        let bits = f64::from(bytes) * f64::from(BITS_PER_BYTE);
        let frame_time = Duration::from_secs_f64(bits / f64::from(baud.max(300)));
        let in_flight = frame_time * FRAMES_IN_FLIGHT_MAX;
        // An erase may take two seconds.
        Self {
            answer: Duration::from_secs(1) + in_flight,
            flash: Duration::from_secs(4) + in_flight,
            frame_time,
        }
    }
}

/// Frames sent to a device until its answers are complete. All times count from one arbitrary
/// moment.
pub trait Transaction {
    /// What the answers amount to.
    type Output;

    /// Writes the next frame to send and returns its length, including the final zero. `None` if
    /// there is nothing to send before a frame arrives, or before [`Self::poll_at`].
    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize>;

    /// Takes an intact frame that arrived.
    fn receive(&mut self, now: Duration, body: &FrameBody<'_>);

    /// When to call [`Self::transmit`] again if nothing arrives before.
    fn poll_at(&self) -> Duration;

    /// The result, once the transaction has ended.
    fn take_result(&mut self) -> Option<Result<Self::Output, LinkError>>;
}
