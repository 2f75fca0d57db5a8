//! The memory window through which an emulated board and a simulated furnace take turns: its layout,
//! for both sides.
//!
//! The furnace writes its half and then [`TURN_STARTED`]. The board runs one tick, writes its own
//! half and then [`TURN_DONE`] with the same number. The bus transfers that the board is expected to
//! make in the tick, with their replies, are in the window beforehand, as a script. For any other
//! transfer the board sends a request and waits ([`REQUEST_NUMBER`], [`REPLY_NUMBER`]).
#![no_std]

mod pins;
mod transfer;
mod window;
mod wiring;

pub use pins::{Input, Output, Part};
pub use transfer::BusTransfer;
pub use window::*;
pub use wiring::{CURRENT, GAUGE, NoResponseError, board_parts, board_settings, flash_layout};
