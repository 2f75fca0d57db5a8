//! Files that people write and read: opened with care, judged with the place of every fault, and
//! written whole or not at all.
//!
//! [`Source`] is a text that was read, with a cap on its size; a [`Finding`] is what is wrong with
//! it, where, and what would help. [`whole`] writes a file, [`file_set`] a folder of them.

mod error;
pub mod feature;
pub mod file_set;
mod finding;
pub mod plain_file;
mod read;
mod source;
mod suggest;
mod text;
pub mod whole;

pub use error::{Error, findings_line, shown_path};
pub use finding::{Finding, Findings, Place, Span};
pub use read::SIZE_MAX;
pub use source::{Source, hex, short};
pub use suggest::nearest;
pub use text::{forbidden, hidden, json_written_out, shown, written_out};
pub use whole::Unwritten;
