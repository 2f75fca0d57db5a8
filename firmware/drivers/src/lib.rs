//! Drivers for the parts of a small vacuum furnace, over the traits of `embedded-hal` 1.0.
//!
//! * [`ads1220`] the control thermocouple.
//! * [`max31856`] the independent limit thermocouple, on another maker's part.
//! * [`ads1115`] two slow converters, and [`scale`] their scales: pressure, heater current.
//! * [`heater`] burst firing in whole mains cycles.
//! * [`closure`] lift or door.
//! * [`contacts`] contacts and buttons.
//! * [`board`] all of these: read, write, and only then kick the watchdog.
//!
//! No decisions about heat are made here. A reading that failed is `None`, never an old value that
//! looks new; an output that fails switches heater and contactor off and is reported.
#![no_std]

pub mod ads1115;
pub mod ads1220;
pub mod board;
pub mod closure;
pub mod contacts;
pub mod heater;
pub mod max31856;
pub mod scale;

pub use board::{Board, BoardConfig, BoardParts, KickToken, OutputErrors};

/// Time between two ticks (ms), the unit of a sample's age.
#[expect(clippy::cast_possible_truncation, reason = "a hundred")]
const TICK_MS: u16 = saggar_core::TICK_MS as u16;
