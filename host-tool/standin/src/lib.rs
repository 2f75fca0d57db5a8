//! The stand-in for a furnace, as a process: a bench with clients, a control panel with buttons, a
//! speed, and a file for its flash.

mod clients;
mod displayed;
mod error;
mod events;
mod fault_desk;
mod faults;
mod flash_file;
mod keyboard;
pub mod listener;
pub mod pace;
pub mod panel;
pub mod presses;
mod standin;
mod typed;

pub use displayed::DisplayedProgramme;
pub use error::StandInError;
pub use events::{DisplayEvent, StandInEvent};
pub use faults::{FaultNews, fault_phrase};
pub use flash_file::FlashFile;
pub use standin::{CompletedFiring, FiringSetup, StandIn};
