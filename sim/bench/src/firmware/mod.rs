//! What decides in front of a furnace: the bare core, a device on modelled chips, the image for a
//! board in an emulator, or a recording of what was decided.

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

pub use self::core::BareCore;
pub use board_usage::{BoardUsage, SectionCost};
pub use playback::{Playback, PlaybackError};
pub use simulated_board::SimulatedBoard;

/// The firmware, whichever way it runs. One that can be copied can be forked.
pub trait Firmware {
    /// Why it does not answer.
    type Error;

    /// One tick: hears what the instruments say and answers. `inputs` becomes what the core was
    /// really told, through whatever lies in between.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    fn tick(&mut self, now: Instant, inputs: &mut Inputs) -> Result<Outputs, Self::Error>;

    /// The core that decides, or the one beside it that agrees with it.
    fn core(&self) -> &Controller;

    /// What has happened, the oldest first.
    fn take_event(&mut self) -> Option<Event>;

    /// What a display shows after the tick.
    fn status(&self) -> ControllerStatus {
        self.core().status()
    }

    /// The programme that would run.
    fn programme(&self) -> Option<&ProgrammeImage> {
        self.core().programme()
    }

    /// What a display has to announce of a new programme.
    fn announcement(&self) -> Announcement {
        Announcement::default()
    }

    /// The last press of start or confirm if it had no effect, as far as the firmware tells.
    fn ignored_press(&self) -> Option<IgnoredPress> {
        None
    }
}

/// Firmware with a line to desks, and flash.
pub trait LinkedFirmware: Firmware {
    /// What it says to the line of its own since it was asked last, added to `said`.
    fn drain_output(&mut self, said: &mut Vec<u8>);

    /// The line brings a frame between two ticks. What is said to it is added to `said`.
    ///
    /// # Errors
    /// Why the firmware does not answer.
    fn receive(
        &mut self,
        now: Instant,
        frame: &[u8],
        said: &mut Vec<u8>,
    ) -> Result<(), Self::Error>;

    /// Brings its [`Flash`](crate::flash::SimulatedFlash) here up to date, if it lies elsewhere.
    ///
    /// # Errors
    /// It cannot be had, or what it is kept in does not take it.
    fn sync_flash(&mut self) -> Result<(), Self::Error>;
}
