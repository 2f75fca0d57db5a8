//! What decides in a stand-in: the firmware's own logic, in this process or in an emulator.

use saggar_core::controller::Status;
use saggar_core::events::Event;
use saggar_core::programme::Image;
use saggar_core::sequencer::State;
use saggar_device::Announcement;

use super::Error;
use super::bench::Bench;

/// The firmware, whichever way it runs.
pub trait Brain {
    /// One tick at this time (ms): reads the bench's parts, moves its pins. What the line shall
    /// take, unasked, is added to `tx`.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    fn tick(&mut self, now_ms: u64, bench: &mut Bench, tx: &mut Vec<u8>) -> Result<(), Error>;

    /// The line brings a frame between two ticks. What is said to it is added to `tx`.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    fn hear(&mut self, now_ms: u64, frame: &[u8], tx: &mut Vec<u8>) -> Result<(), Error>;

    /// Makes what was written to the flash outlast a power cut of the desk, at once or now and then.
    ///
    /// # Errors
    /// The disk does not take it.
    fn keep(&mut self, at_once: bool) -> Result<(), Error>;

    /// What a display shows after the tick.
    fn status(&self) -> Status;

    /// Where the firing is.
    fn state(&self) -> &State;

    /// The programme that would run.
    fn programme(&self) -> Option<&Image>;

    /// What a display has to announce of it.
    fn announcement(&self) -> Announcement;

    /// What has happened since the last call.
    fn events(&mut self) -> Vec<Event>;
}
