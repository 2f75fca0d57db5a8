//! Reads text files.

use std::path::Path;

use crate::diagnostic::Diagnostic;
use crate::plain_file;
use crate::source::SourceText;

/// Largest text file that is read (bytes). A schedule is a page, a profile two.
pub const TEXT_BYTES_MAX: usize = 256 * 1024;

impl SourceText {
    /// Reads a text file. `recognise` returns message and cure for bytes that it knows as another
    /// kind of file.
    ///
    /// # Errors
    /// The file cannot be read, is not UTF-8, or was recognised as another kind of file.
    pub fn read(
        path: &Path,
        recognise: fn(&[u8]) -> Option<(&'static str, &'static str)>,
    ) -> Result<Self, Diagnostic> {
        let bytes = plain_file::read_bytes(path, TEXT_BYTES_MAX)
            .map_err(|fault| fault.diagnostic(path))?;
        if let Some((message, help)) = recognise(&bytes) {
            return Err(Diagnostic::for_file(path, message, help));
        }
        Ok(Self::new(&path.display().to_string(), decode(bytes, path)?))
    }
}

fn decode(bytes: Vec<u8>, path: &Path) -> Result<String, Diagnostic> {
    let cure =
        "give a text file; if it is one, save it as plain text in UTF-8 from your editor";
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Diagnostic::for_file(path, "the text is UTF-16, not UTF-8", cure));
    }
    String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..offset].iter().filter(|byte| **byte == b'\n').count() + 1;
        let byte = error.as_bytes().get(offset).copied().unwrap_or(0);
        let message = format!(
            "the text is not UTF-8: byte 0x{byte:02x} at offset {offset}, on line {line}"
        );
        Diagnostic::for_file(path, message, cure)
    })
}
