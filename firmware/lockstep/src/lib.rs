//! The window of memory through which an emulated board and its furnace take turns: where what
//! lies, for both sides.
//!
//! The furnace writes its half and then [`TURN`]; the board runs one tick, writes its own half and
//! then [`DONE`] with the same number. What the board's parts will most likely be asked in that
//! tick has been asked of them beforehand: a script of exchanges with their answers. An exchange
//! that is not the next one of the script is asked by itself ([`ASKED`], [`ANSWERED`]).
#![no_std]

mod pins;
mod transfer;
mod window;
mod wiring;

pub use pins::{Input, Output, Part};
pub use transfer::BusTransfer;
pub use window::*;
pub use wiring::{CURRENT, GAUGE, NoResponseError, board_parts, board_settings, flash_layout};
