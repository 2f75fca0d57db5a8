//! Firmware under test: the bare core, a device on modelled chips, the image of a board in an emulator,
//! or the playback of a recording.

mod board_usage;
mod core;
#[cfg(unix)]
pub mod emulated;
mod playback;
mod simulated_board;
pub mod wiring;

use saggar_core::Controller;
use saggar_core::controller::ControllerStatus;
use saggar_core::events::Event;
use saggar_core::io::{Inputs, Outputs};
use saggar_core::programme::ProgrammeImage;
use saggar_core::units::Instant;
use saggar_device::{Announcement, IgnoredPress};
use saggar_plant::faults::{FlashArea, MemoryFault};

pub use self::core::BareCore;
pub use board_usage::{BoardUsage, SectionCost};
pub use playback::{Playback, PlaybackError};
pub use simulated_board::SimulatedBoard;

/// Firmware that a bench can run. If it implements `Clone`, the bench can be forked.
pub trait Firmware {
    /// The error of firmware that does not respond.
    type Error;

    /// Runs one tick on the instrument readings. `inputs` is replaced by what the core received after
    /// drivers and converters.
    ///
    /// # Errors
    /// The firmware does not answer.
    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, Self::Error>;

    /// The core itself, or the reference core that agrees with it.
    fn core(&self) -> &Controller;

    /// The next event, oldest first.
    fn take_event(&mut self) -> Option<Event>;

    /// The status that a display shows after the tick.
    fn status(&self) -> ControllerStatus {
        self.core().status()
    }

    /// The active programme.
    fn programme(&self) -> Option<&ProgrammeImage> {
        self.core().programme()
    }

    /// Whether [`Self::flip_memory`] does anything.
    const CAN_FLIP_MEMORY: bool = false;

    /// Flips a bit of the core's memory. Does nothing in firmware whose memory is out of reach.
    fn flip_memory(&mut self, _fault: MemoryFault) {}

    /// The announcement of a new programme for the display.
    fn announcement(&self) -> Announcement {
        Announcement::default()
    }

    /// The last press of start or confirm if it had no effect; `None` from firmware that does not report it.
    fn ignored_press(&self) -> Option<IgnoredPress> {
        None
    }
}

/// Firmware with a serial connection and flash.
pub trait LinkedFirmware: Firmware {
    /// Appends the bytes that it sent since the last call to `output`.
    fn drain_output(&mut self, output: &mut Vec<u8>);

    /// Delivers a received frame between two ticks and appends the reply to `output`.
    ///
    /// # Errors
    /// The firmware does not answer.
    fn receive(
        &mut self,
        now: Instant,
        frame: &[u8],
        output: &mut Vec<u8>,
    ) -> Result<(), Self::Error>;

    /// Updates its [`SimulatedFlash`](crate::flash::SimulatedFlash) from the memory of the board that runs
    /// the firmware.
    ///
    /// # Errors
    /// The flash cannot be read or stored.
    fn sync_flash(&mut self) -> Result<(), Self::Error>;

    /// Whether [`Self::reboot`] and [`Self::flip_flash`] do anything.
    const CAN_REBOOT: bool = false;

    /// Loses its memory in a power cut, and boots from its flash.
    ///
    /// # Errors
    /// It does not boot. It may be tried again.
    fn reboot(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }

    /// Flips a bit of its flash. Returns whether there is anything to flip a bit of.
    ///
    /// # Errors
    /// The flash cannot be stored.
    fn flip_flash(&mut self, _area: FlashArea) -> Result<bool, Self::Error> {
        Ok(false)
    }
}
