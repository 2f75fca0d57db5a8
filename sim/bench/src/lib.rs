//! A furnace that is not there, and the one loop that runs firmware in front of it.
//!
//! A [`Bench`] is a [`World`], [`Firmware`](firmware::Firmware), an [`Operator`](operator::Operator)
//! and an [`Observer`](observer::Observer): a rehearsal, a stand-in, the emulated board and a
//! recording that is replayed differ in what is put in. [`trace`] is what is kept of a firing, [`replay`] compares
//! a recording with what the core does now.
//! [`chips`] are the registers of the front ends, for drivers without a board; [`flash`] is a
//! device's memory.

mod bench;
pub mod chips;
mod error;
pub mod firmware;
pub mod flash;
pub mod observer;
pub mod operator;
mod reference_core;
mod rehearsal;
pub mod replay;
pub mod trace;
mod world;

pub use bench::Bench;
pub use error::BenchError;
pub use reference_core::{MismatchError, ReferenceCore};
pub use rehearsal::{FiringResult, Rehearsal, RehearsalSetup, SetupError};
pub use world::World;
