//! Text files, told from the compiled programmes that lie beside them.

use std::path::Path;

use saggar_core::programme::ProgrammeImage;

use saggar_files::{Diagnostic, SourceText};

/// Reads a text file, and says so if it is a programme.
///
/// # Errors
/// Why it is no text that a reader could look at.
pub fn read_text(path: &Path) -> Result<SourceText, Diagnostic> {
    SourceText::read(path, |bytes| {
        let help =
            "`saggar show` reads it; its schedule is the TOML file that it was made from";
        ProgrammeImage::from_bytes(bytes)
            .is_ok()
            .then_some(("this is a compiled programme", help))
    })
}
