//! The whole way, through the binary as a user has it: check, rehearse, clearance, upload, start at
//! the panel, firing, record, replay. Once with the firmware in the stand-in's own process, and
//! with the image on an emulated Cortex-M4F where there is one.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "tests")]

/// A folder, a key, and a stand-in that runs in it.
mod bench;
/// What the report of a stand-in says of its buttons.
mod buttons;
/// Several desks at one stand-in.
mod desks;
/// The image for the emulated board.
mod emulated;
/// What is typed at a stand-in.
#[cfg(target_os = "linux")]
mod keyboard;
/// The firmware in the stand-in's process.
mod local;
#[path = "../shared/run_output.rs"]
mod run_output;
