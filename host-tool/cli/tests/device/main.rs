//! The binary against a complete device in a thread, over a local TCP connection or a pair of
//! pseudo-terminals.

#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod bench;
mod channels;
mod clearances;
mod cuts;
mod flash;
mod lost;
mod orders;
#[path = "../shared/run_output.rs"]
mod run_output;
mod terminals;
mod test_device;
mod threats;
#[path = "../shared/upload.rs"]
mod upload;
mod watching;
