//! Reads text files, and recognises compiled programmes, which often lie beside them.

use std::path::Path;

use saggar_core::programme::ProgrammeImage;

use saggar_files::{Diagnostic, SourceText};

/// Reads a text file.
///
/// # Errors
/// It cannot be read, is not text, or is a compiled programme.
pub fn read_text(path: &Path) -> Result<SourceText, Diagnostic> {
    SourceText::read(path, |bytes| {
        let help =
            "name the TOML file that it was compiled from; `saggar show` reads programmes";
        ProgrammeImage::from_bytes(bytes)
            .is_ok()
            .then_some(("this is a compiled programme", help))
    })
}
