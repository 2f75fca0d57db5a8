//! The control core of a small vacuum furnace.
//!
//! One function matters: [`Controller::step`]. Ten times a second it takes what the
//! instruments said ([`Inputs`]) and returns what the board must do ([`Outputs`]). It reads
//! no clock, does no I/O, owns no heap and cannot panic. The modules are the stations of one
//! tick, in the order in which data passes them; the arrow never turns inside a tick:
//!
//! ```text
//! Inputs -> sensors -> estimate -> interlock -> sequencer -> control -> actuators -> Outputs
//! ```
//!
//! * [`units`] the numbers: finite temperatures, durations, instants.
//! * [`io`] what comes in and what goes out, raw.
//! * [`furnace`] what the device knows of its own furnace: sensors, limits, gains.
//! * [`programme`] the compiled schedule: steps, their bytes, their digest, their verification.
//! * [`sensors`] raw codes to temperatures and pressure, or the fault that forbids it.
//! * [`estimate`] filtered value, rate, and the worst case that an old reading allows.
//! * [`interlock`] the only maker of a heat permit, and the latch of the first cause.
//! * [`sequencer`] where in the programme the firing is, and what it asks for now.
//! * [`control`] how much heat, and which pump and valves, that takes.
//! * [`actuators`] spends the permit; turns a duty into mains cycles.
//! * [`events`] what happened, in order, for whoever wants to know.
//! * [`controller`] the only file that knows the order.
//!
//! Beside the tick stand [`checksum`], the CRC that guards bytes in memory and in flash, and [`room`],
//! a slice that fills up with encoded bytes. Line, flash and all else of a device is the crate
//! above this one, `saggar-device`.
//!
//! Nothing here is certified. The interlocks are a second line: a furnace needs an
//! independent hardware over-temperature cut-out.
#![no_std]
#![allow(
    clippy::neg_cmp_op_on_partial_ord,
    reason = "`!(t < limit)` is how a NaN is made to fail a proof"
)]

pub mod actuators;
pub mod buffer;
pub mod checksum;
pub mod control;
pub mod controller;
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

/// The same in seconds, for the arithmetic of filters and gains.
pub const TICK_S: f32 = TICK_MS as f32 / 1000.0;
