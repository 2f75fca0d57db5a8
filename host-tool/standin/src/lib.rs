//! The stand-in for a furnace, as a process: a bench with clients, a control panel with buttons, a
//! speed, and a file for its flash.

mod clients;
mod error;
mod flash_file;
mod keyboard;
pub mod listener;
pub mod pace;
pub mod panel;
pub mod presses;
mod standin;

pub use error::StandInError;
pub use flash_file::FlashFile;
pub use standin::{
    CompletedFiring, DisplayEvent, DisplayedProgramme, FiringSetup, StandIn, StandInEvent,
};
