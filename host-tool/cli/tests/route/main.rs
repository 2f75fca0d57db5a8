//! All steps of a firing, through the binary as a user has it: check, rehearse, clearance, upload, start at
//! the panel, firing, record, replay. Once with the firmware in the stand-in's own process, and
//! with the image on an emulated Cortex-M4F where there is one.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "tests")]

/// A folder, a key, and a stand-in that runs in it.
mod bench;
/// The buttons in a stand-in's report.
mod buttons;
/// Several clients at one stand-in.
mod clients;
/// The image for the emulated board.
mod emulated;
/// Endless input at a stand-in's keyboard.
#[cfg(target_os = "linux")]
mod keyboard;
/// Faults that are typed while it runs.
mod live_faults;
/// The firmware in the stand-in's process.
mod local;
#[path = "../shared/run_output.rs"]
mod run_output;
#[path = "../shared/upload.rs"]
mod upload;
