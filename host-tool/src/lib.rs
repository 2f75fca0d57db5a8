//! The host tool: plan, check and rehearse a firing before the furnace is touched.
//!
//! What was typed ([`args`]) becomes what it means ([`settings`]); a command ([`commands`])
//! takes that and returns data; [`output`] shows the data to a person or to a program. Files
//! are read by [`document`], which says everything that is wrong with one at once, and become
//! a [`schedule`] and a [`profile`], together a [`firing`].

pub mod args;
pub mod clearance;
pub mod commands;
mod device_run;
pub mod document;
pub mod error;
pub mod feature;
mod file_set;
pub mod firing;
pub mod key;
pub mod link;
pub mod logfile;
pub mod output;
mod plain_file;
pub mod profile;
pub mod report;
mod run;
pub mod say;
pub mod schedule;
pub mod settings;
pub mod standin;
mod standin_run;
mod typed;
mod usage;
pub mod whole;

pub use error::Error;
pub use firing::Firing;
pub use run::run;
pub use usage::arguments;
