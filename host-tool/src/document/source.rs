//! The text of a file, read with care for what may stand under a file's name.

use std::fs::{self, File};
use std::io::{ErrorKind, Read};
use std::path::Path;

use saggar_core::programme::Image;
use sha2::{Digest as _, Sha256};

use super::Finding;
use super::text::{forbidden, shown};

/// Largest file that is read. A schedule is a page; a profile is two.
pub const SIZE_MAX: usize = 256 * 1024;

/// Most characters of a file's name in a message.
const NAME_CHARS_MAX: usize = 200;

/// What the system calls links that lead in a circle (`ELOOP`); the library has no stable name
/// for it.
const LINKS_IN_A_CIRCLE: i32 = if cfg!(target_os = "linux") { 40 } else { 62 };

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

    /// Reads a file.
    ///
    /// # Errors
    /// Why it is no text that a reader could look at.
    pub fn read(path: &Path) -> Result<Self, Finding> {
        let name = path.display().to_string();
        let bytes = bytes_of(path, SIZE_MAX).map_err(|fault| fault.finding(&name))?;
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
            c if !forbidden(c) => c,
            c if c.len_utf8() == 1 => '?',
            c if c.len_utf8() == 2 => '·',
            c if c.len_utf8() == 3 => '\u{fffd}',
            _ => '\u{1f6ab}',
        };
        self.text.chars().map(replace).collect()
    }
}

/// Bytes in hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Why the bytes of a file cannot be had.
#[derive(Debug)]
pub(crate) enum ReadFault {
    /// Nothing has this name.
    Missing,
    /// It is a folder.
    Folder,
    /// It is a pipe, a socket or a device.
    Special,
    /// It is larger than the cap (bytes).
    TooLarge(usize),
    /// The system refuses.
    Refused(std::io::Error),
}

impl ReadFault {
    /// The fault as a finding on the file of this name.
    pub(crate) fn finding(&self, name: &str) -> Finding {
        let (message, help) = match self {
            Self::Missing => (
                "there is no such file".to_owned(),
                "check the spelling, and the folder you are in".to_owned(),
            ),
            Self::Folder => {
                ("this is a folder, not a file".to_owned(), "name a file in it".to_owned())
            }
            Self::Special => (
                "this is a pipe or a device, not a file".to_owned(),
                "save it as a file first: it is read more than once".to_owned(),
            ),
            Self::TooLarge(cap) => (
                format!("the file is larger than {} KiB", cap / 1024),
                "a file of this kind is a page or two of text: check that it is the right one"
                    .to_owned(),
            ),
            Self::Refused(why) if why.raw_os_error() == Some(LINKS_IN_A_CIRCLE) => (
                "this is a link that leads back to itself".to_owned(),
                "name the file that it should lead to".to_owned(),
            ),
            Self::Refused(why) if why.kind() == ErrorKind::PermissionDenied => (
                "you may not read it".to_owned(),
                "ask its owner for the right to, or copy it".to_owned(),
            ),
            Self::Refused(why) => (
                format!("it cannot be read: {}", why.kind()),
                "check the disk, and who may read it".to_owned(),
            ),
        };
        Finding::on_file(name, message, help)
    }
}

/// The bytes of a plain file, never more than `cap`, whatever its metadata say.
pub(crate) fn bytes_of(path: &Path, cap: usize) -> Result<Vec<u8>, ReadFault> {
    let fault = |error: std::io::Error| {
        if error.kind() == ErrorKind::NotFound {
            ReadFault::Missing
        } else {
            ReadFault::Refused(error)
        }
    };
    // A pipe would keep `open` waiting for a writer, so what it is comes first.
    let metadata = fs::metadata(path).map_err(fault)?;
    if metadata.is_dir() {
        return Err(ReadFault::Folder);
    }
    if !metadata.is_file() {
        return Err(ReadFault::Special);
    }
    let mut bytes = Vec::new();
    let room = u64::try_from(cap).unwrap_or(u64::MAX).saturating_add(1);
    File::open(path).map_err(fault)?.take(room).read_to_end(&mut bytes).map_err(fault)?;
    if bytes.len() > cap {
        return Err(ReadFault::TooLarge(cap));
    }
    Ok(bytes)
}

fn decode(bytes: Vec<u8>, name: &str) -> Result<String, Finding> {
    if Image::from_bytes(&bytes).is_ok() {
        let help =
            "`saggar show` reads it; its schedule is the TOML file that it was made from";
        return Err(Finding::on_file(name, "this is a compiled programme", help));
    }
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
