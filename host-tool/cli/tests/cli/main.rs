//! Runs the binary: messages and their locations, files, and exit codes. Each invalid input is
//! a valid schedule with one change.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

mod advice;
mod bench;
mod campaign;
#[cfg(unix)]
mod causes;
mod commands;
mod examples;
mod faults;
mod features;
mod files;
mod folders;
mod generated;
#[cfg(unix)]
mod hostile;
mod keys;
mod messages;
mod not_known;
mod profiles;
mod records;
mod rehearsals;
mod replays;
#[path = "../shared/run_output.rs"]
mod run_output;
mod schedules;
mod starts;
