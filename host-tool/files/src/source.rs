//! The text of a file, read with care for what may stand under a file's name.

use std::path::Path;

use sha2::{Digest as _, Sha256};

use crate::Finding;
use crate::plain_file;
use crate::text::{hidden, shown};

/// Largest file that is read. A schedule is a page; a profile is two.
pub const SIZE_MAX: usize = 256 * 1024;

/// Most characters of a file's name in a message.
const NAME_CHARS_MAX: usize = 200;

/// A text and the name of its file.
#[derive(Debug)]
pub struct Source {
    name: String,
    text: String,
}

impl Source {
    /// A text that is at hand, under a name for the messages.
    pub fn of(name: &str, text: impl Into<String>) -> Self {
        Self { name: shown(name, NAME_CHARS_MAX), text: text.into() }
    }

    /// Reads a file. `other` is what is wrong with bytes that are something else than text, and
    /// the help.
    ///
    /// # Errors
    /// Why it is no text that a reader could look at.
    pub fn read(
        path: &Path,
        other: fn(&[u8]) -> Option<(&'static str, &'static str)>,
    ) -> Result<Self, Finding> {
        let name = path.display().to_string();
        let bytes = plain_file::bytes(path, SIZE_MAX).map_err(|fault| fault.finding(&name))?;
        if let Some((message, help)) = other(&bytes) {
            return Err(Finding::on_file(&name, message, help));
        }
        let text = decode(bytes, &name)?;
        Ok(Self::of(&name, text))
    }

    /// The name of the file, fit to be shown.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the text, hexadecimal: that of the file as it is on Unix. A byte-order mark and
    /// carriage returns before line feeds do not count, since editors and version control add
    /// and remove them unasked, and no reader of these files looks at them.
    pub fn digest(&self) -> String {
        let text = self.text.strip_prefix('\u{feff}').unwrap_or(&self.text);
        hex(&Sha256::digest(text.replace("\r\n", "\n")))
    }

    /// Line and column of a byte, both from 1; the column counts characters.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let before = &self.text[..offset];
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line = before.bytes().filter(|byte| *byte == b'\n').count() + 1;
        (line, before[start..].chars().count() + 1)
    }

    /// The text with every character that a terminal would act on replaced by a harmless one
    /// of the same length, so that places stay where they are.
    pub fn harmless_text(&self) -> String {
        let replace = |c: char| match c {
            '\n' | '\t' | '\r' => c,
            c if !hidden(c) => c,
            c if c.len_utf8() == 1 => '?',
            c if c.len_utf8() == 2 => '·',
            c if c.len_utf8() == 3 => '\u{fffd}',
            _ => '\u{1f6ab}',
        };
        self.text.chars().map(replace).collect()
    }
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn decode(bytes: Vec<u8>, name: &str) -> Result<String, Finding> {
    let save = "save it as plain text in UTF-8 from your editor";
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(Finding::on_file(name, "the text is UTF-16, not UTF-8", save));
    }
    String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..offset].iter().filter(|byte| **byte == b'\n').count() + 1;
        let byte = error.as_bytes().get(offset).copied().unwrap_or(0);
        let message = format!(
            "the text is not UTF-8: byte 0x{byte:02x} at offset {offset}, on line {line}"
        );
        Finding::on_file(name, message, save)
    })
}
