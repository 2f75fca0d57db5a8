//! A simulated furnace and the loop that runs firmware against it.
//!
//! A [`Bench`] is a [`World`], [`Firmware`](firmware::Firmware), an [`Operator`](operator::Operator)
//! and an [`Observer`](observer::Observer): a rehearsal, a stand-in, the emulated board and the playback of
//! a recording differ only in these parts. [`trace`] is the time series of a firing; [`replay`] compares a
//! recording with what the core does now, and [`recorded`] gives a verdict on it. [`chips`] models the registers of the front-end chips, for
//! drivers without a board; [`flash`] simulates the flash of a device.

mod bench;
pub mod chips;
mod error;
pub mod firmware;
pub mod flash;
pub mod observer;
pub mod operator;
pub mod recorded;
mod reference_core;
mod rehearsal;
pub mod replay;
pub mod trace;
mod world;

pub use bench::Bench;
pub use error::BenchError;
pub use reference_core::{MismatchError, ReferenceCore};
pub use rehearsal::{FiringResult, PlannedCut, Rehearsal, RehearsalSetup, SetupError};
pub use world::{PowerCut, World};
