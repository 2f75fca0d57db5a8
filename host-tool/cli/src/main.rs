//! The host tool: plan, check and rehearse a firing before the furnace is touched.
//!
//! The arguments ([`args`]) and the terminal give an [`invocation`]; a command ([`commands`]) takes it
//! and returns data; [`output`] prints the data as text or as JSON. [`mod@run`] joins them. The work
//! itself is done in the other crates of the workspace.

pub mod args;
pub mod commands;
pub mod error;
pub mod invocation;
pub mod output;
pub mod run;

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(run::run().code())
}
