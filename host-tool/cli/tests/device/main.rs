//! The binary against a whole device: its code as on a board, behind a connection within this
//! machine or a pair of terminals.

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
mod standin;
mod terminals;
mod threats;
mod watching;
