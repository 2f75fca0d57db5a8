//! Files that people write and read: opened with care, judged with the place of every fault, and
//! written whole or not at all.
//!
//! [`Source`] is a text that was read, with a cap on its size; a [`Finding`] is what is wrong with
//! it, where, and what would help. [`whole`] writes a file, [`file_set`] a folder of them.

pub mod atomic_file;
mod diagnostic;
mod error;
pub mod feature;
pub mod file_set;
pub mod plain_file;
mod read;
mod source;
mod suggest;
mod text;

pub use atomic_file::WriteError;
pub use diagnostic::{ByteSpan, Diagnostic, Diagnostics, Location};
pub use error::{FilesError, diagnostics_summary, display_path};
pub use read::TEXT_BYTES_MAX;
pub use source::{SourceText, hex, short};
pub use suggest::nearest;
pub use text::{escape_hidden, escape_hidden_json, is_forbidden_in_name, is_hidden, sanitized};
