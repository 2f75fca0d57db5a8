//! A furnace that is not there, as a process that listens as a board does: a bench with a line for
//! desks, a panel with buttons, a pace, and a file in which its flash lies.

mod desks;
mod disk;
mod error;
mod keys;
pub mod line;
pub mod pace;
pub mod panel;
pub mod presses;
mod standin;

pub use disk::Disk;
pub use error::Error;
pub use standin::{Ended, Filling, Shown, StandIn, Told};
