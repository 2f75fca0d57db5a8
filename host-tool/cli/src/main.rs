//! The host tool: plan, check and rehearse a firing before the furnace is touched.
//!
//! What was typed ([`args`]) becomes what it means ([`settings`]); a command ([`commands`])
//! takes that and returns data; [`output`] shows the data to a person or to a program. [`mod@run`]
//! joins them. What the commands are made of stands in the crates beside this one.

pub mod args;
pub mod commands;
pub mod error;
pub mod output;
pub mod run;
pub mod settings;

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(run::run().code())
}
