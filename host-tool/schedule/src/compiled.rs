//! Text files, told from the compiled programmes that lie beside them.

use std::path::Path;

use saggar_core::programme::Image;

use saggar_files::{Finding, Source};

/// Reads a text file, and says so if it is a programme.
///
/// # Errors
/// Why it is no text that a reader could look at.
pub fn source(path: &Path) -> Result<Source, Finding> {
    Source::read(path, |bytes| {
        let help =
            "`saggar show` reads it; its schedule is the TOML file that it was made from";
        Image::from_bytes(bytes).is_ok().then_some(("this is a compiled programme", help))
    })
}
