//! The host tool: plan, check and rehearse a firing before the furnace is touched.
//!
//! What was typed ([`args`]) becomes what it means ([`settings`]); a command ([`commands`])
//! takes that and returns data; [`output`] shows the data to a person or to a program. What the
//! commands are made of stands in the crates beside this one.

pub mod args;
pub mod commands;
mod device_run;
pub mod error;
pub mod output;
mod run;
pub mod settings;
mod standin_run;
mod typed;
mod usage;

pub use error::Error;
pub use run::run;
pub use usage::arguments;
