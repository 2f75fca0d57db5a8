//! The text of a file, and its name.

use sha2::{Digest as _, Sha256};

use crate::text::{is_hidden, sanitized};

/// Most characters of a file's name in a message.
const NAME_CHARS_MAX: usize = 200;

/// A text and the name of its file.
#[derive(Debug)]
pub struct SourceText {
    name: String,
    text: String,
}

impl SourceText {
    /// A text that is at hand, under a name for the messages.
    pub fn new(name: &str, text: impl Into<String>) -> Self {
        Self { name: sanitized(name, NAME_CHARS_MAX), text: text.into() }
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
    pub fn display_text(&self) -> String {
        let replace = |c: char| match c {
            '\n' | '\t' | '\r' => c,
            c if !is_hidden(c) => c,
            c if c.len_utf8() == 1 => '?',
            c if c.len_utf8() == 2 => '·',
            c if c.len_utf8() == 3 => '\u{fffd}',
            _ => '\u{1f6ab}',
        };
        self.text.chars().map(replace).collect()
    }
}

/// The first digits of a digest: enough to tell two by eye that nobody made alike.
pub fn short(digest: &str) -> &str {
    digest.get(..8).unwrap_or(digest)
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
