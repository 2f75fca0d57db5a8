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
    /// A text that is in memory already, and the name to use in messages.
    pub fn new(name: &str, text: impl Into<String>) -> Self {
        Self { name: sanitized(name, NAME_CHARS_MAX), text: text.into() }
    }

    /// The name of the file, safe to print.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// SHA-256 of the text, hexadecimal. A byte-order mark and carriage returns before line feeds are
    /// left out: editors and version control add and remove them, and they mean nothing here. So
    /// the digest equals that of the file with Unix line ends.
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

    /// The text with every control or hidden character replaced by a visible one of the same length in
    /// bytes, so that locations stay valid.
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

/// The first eight digits of a digest: enough to tell two apart by eye, not against an attacker.
pub fn short(digest: &str) -> &str {
    digest.get(..8).unwrap_or(digest)
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
