//! Files that people write and read. Only plain files are opened, errors in them are reported with
//! their location, and files are written atomically.
//!
//! [`SourceText`] is the text of a file of limited size; a [`Diagnostic`] is an error in it, with its
//! location and a cure. [`atomic_file`] writes one file, [`file_set`] replaces a folder of them.

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
