//! What an exchange with a device is, apart from any port and any clock.

use std::time::Duration;

use saggar_device::wire::{FRAME_BYTES_MAX, FrameBody};

use super::LinkError;

/// Times that a thing is said before it is given up.
pub(super) const ATTEMPTS_MAX: u32 = 3;

/// How long an answer may take.
#[derive(Clone, Copy, Debug)]
pub struct Timeouts {
    /// To a question, or to a piece of a programme.
    pub answer: Duration,
    /// To what makes the device erase or write its flash.
    pub flash: Duration,
    /// How long the longest frame takes on the line.
    pub frame_time: Duration,
}

/// Bits that one byte takes on a serial line: start, eight, stop.
const BITS_PER_BYTE: u32 = 10;

/// Frames that may be on their way before an answer can come.
const FRAMES_IN_FLIGHT_MAX: u32 = 10;

impl Timeouts {
    /// For a line of this rate (bit/s): a second for the device, and the time that the frames
    /// ahead of the answer take on the line.
    pub fn for_baud(baud: u32) -> Self {
        let bytes = u32::try_from(FRAME_BYTES_MAX).unwrap_or(u32::MAX);
        let bits = f64::from(bytes) * f64::from(BITS_PER_BYTE);
        let frame = Duration::from_secs_f64(bits / f64::from(baud.max(300)));
        let line = frame * FRAMES_IN_FLIGHT_MAX;
        // An erase may take two seconds.
        Self {
            answer: Duration::from_secs(1) + line,
            flash: Duration::from_secs(4) + line,
            frame_time: frame,
        }
    }
}

/// Something that is said to a device and answered. Times are those since any one moment.
pub trait Transaction {
    /// What comes of it.
    type Output;

    /// Writes the next frame that is to go out now: how many bytes it has, the final zero
    /// included. `None` if nothing is to be said before something arrives, or [`Self::wake`].
    fn transmit(&mut self, now: Duration, frame: &mut [u8; FRAME_BYTES_MAX]) -> Option<usize>;

    /// Takes a frame that arrived whole.
    fn receive(&mut self, now: Duration, body: &FrameBody<'_>);

    /// When [`Self::transmit`] has something to do again, if nothing arrives before.
    fn poll_at(&self) -> Duration;

    /// What came of it, once it is over.
    fn take_result(&mut self) -> Option<Result<Self::Output, LinkError>>;
}
