//! The control core of a small vacuum furnace.
//!
//! The entry point is [`Controller::step`]. Ten times a second it takes the instrument readings
//! ([`Inputs`]) and returns the commands for the board ([`Outputs`]). It reads no clock, does no
//! I/O, allocates nothing and cannot panic. A tick passes through the modules in this order and
//! never turns back:
//!
//! ```text
//! Inputs -> sensors -> estimate -> interlock -> sequencer -> control -> actuators -> Outputs
//! ```
//!
//! * [`units`]: finite temperatures and instants.
//! * [`io`]: raw inputs and outputs of a tick.
//! * [`furnace`]: the furnace's own data: sensors, limits, gains.
//! * [`programme`]: the compiled schedule, its encoding, digest and verification.
//! * [`sensors`]: raw codes to temperatures, or the fault that prevents it.
//! * [`estimate`]: filtered value, rate, and the worst case for the age of a reading.
//! * [`demand`]: what the sequencer demands in a tick.
//! * [`interlock`]: grants the heat permit and latches the first trip cause.
//! * [`sequencer`]: tracks the position in the programme and derives the demand.
//! * [`control`]: turns the demand into a heater duty and pump and valve positions.
//! * [`actuators`]: consumes the permit and turns the duty into mains cycles.
//! * [`events`]: a queue of what happened, for displays and logs.
//! * [`controller`]: calls the others in order.
//!
//! Not part of a tick: [`checksum`], the CRC over bytes in memory and in flash, and [`buffer`], a
//! byte slice that is filled with encoded messages. The serial link, the flash and the rest of a
//! device are in `saggar-device`, which is built on this crate.
//!
//! Nothing here is certified. The interlocks are a second line of defence: a furnace needs an
//! independent hardware over-temperature cut-out.
#![no_std]
#![allow(
    clippy::neg_cmp_op_on_partial_ord,
    reason = "`!(t < limit)` also trips on a NaN, `t >= limit` would not"
)]

pub mod actuators;
pub mod buffer;
pub mod checksum;
pub mod control;
pub mod controller;
pub mod demand;
pub mod estimate;
pub mod events;
pub mod furnace;
pub mod interlock;
pub mod io;
pub mod programme;
pub mod sensors;
pub mod sequencer;
pub mod units;

pub use controller::Controller;
pub use interlock::Cause;
pub use io::{Inputs, Outputs};

/// Time between two calls of [`Controller::step`], in milliseconds.
pub const TICK_MS: u32 = 100;

/// [`TICK_MS`] in seconds, for filters and gains.
pub const TICK_S: f32 = TICK_MS as f32 / 1000.0;
