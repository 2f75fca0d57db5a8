//! A furnace that is not there, with firmware in front of it.
//!
//! * [`chips`] the registers of the front ends, for drivers without a board.
//! * [`rig`] plant and controller in one loop.
//! * [`record`] the trace of a firing.

pub mod chips;
pub mod record;
pub mod rig;
