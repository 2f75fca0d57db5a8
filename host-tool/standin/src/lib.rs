//! A furnace that is not there, as a process that listens as a board does: a bench with a line for
//! desks, a panel with buttons, a pace, and a file in which its flash lies.

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
pub use standin::{CompletedFiring, DisplayedProgramme, FiringSetup, StandIn, StandInEvent};
