//! The drivers against scripted buses and pins: exact traffic, and what comes of every fault.
#![allow(clippy::arithmetic_side_effects, clippy::indexing_slicing, reason = "tests may panic")]

mod ads1115;
mod ads1220;
mod board;
mod heater;
mod max31856;
mod outputs;
mod scale;
mod support;
