//! Faults as a person writes them: on a command line, as `control-drift=30@45..60,every=10,for=0.5`, or
//! in a file. Every other tool shows them as [`fault_text`] writes them.

#[cfg(test)]
mod any_fault;
mod check;
mod file;
mod kinds;
mod text;
mod times;

pub use check::{FaultError, check, first_overlap};
pub use file::{load, read_faults, to_toml};
pub use kinds::{kind_phrase, kinds_markdown};
pub use text::{FaultTextError, fault_text, name_text, parse_fault};
pub use times::{BEFORE_START, MINUTE_MAX, PERIOD_MAX_S, SHORTEST_S};
