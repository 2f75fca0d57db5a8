//! `device messages`: the messages of an image to its developers, in the defmt encoding. Their texts
//! are in the image's file; only numbers come over the link.

use std::path::Path;
use std::time::Duration;

use defmt_decoder::{DecodeError, Table};

use crate::error::CliError;
use saggar_client::link::port::{Port, PortConfig};
use saggar_files::{Diagnostic, sanitized};

/// Largest image that is read: microcontrollers are small, their symbols are not.
const IMAGE_BYTES_MAX: usize = 256 * 1024 * 1024;

/// Most bytes that come without a message among them; a microcontroller has no buffer for as long a
/// one.
const UNREAD_BYTES_MAX: usize = 1 << 16;

/// Most characters of one message.
const CHARS_MAX: usize = 1000;

/// Where the bytes come from.
enum Stream {
    Port(Port),
    File(Option<Vec<u8>>),
}

impl Stream {
    fn open(port: Option<&PortConfig>, file: Option<&Path>) -> Result<Self, CliError> {
        match (port, file) {
            (Some(at), _) => Ok(Self::Port(Port::open(at)?)),
            (None, Some(path)) => Ok(Self::File(Some(bytes(path)?))),
            (None, None) => Ok(Self::File(None)),
        }
    }

    /// The next bytes; `None` at the end.
    fn next(&mut self) -> Result<Option<Vec<u8>>, CliError> {
        match self {
            Self::File(bytes) => Ok(bytes.take()),
            Self::Port(port) => {
                let mut buffer = vec![0; 4096];
                let read = port.read(&mut buffer, Duration::from_millis(100))?;
                buffer.truncate(read);
                Ok(Some(buffer))
            }
        }
    }
}

/// Number of bytes that the decoder holds without a message.
#[derive(Debug, Default)]
struct Unread(usize);

impl Unread {
    const fn more(&mut self, bytes: usize) {
        self.0 = self.0.saturating_add(bytes);
    }

    const fn is_too_much(&self) -> bool {
        self.0 > UNREAD_BYTES_MAX
    }
}

/// Decodes the messages of an image from a port or a file, and calls `show` with the level and text
/// of each, until the file ends or the port is lost.
///
/// # Errors
/// The image has no messages, the bytes are not from this image, or the port fails.
pub fn messages(
    elf: &Path,
    port: Option<&PortConfig>,
    file: Option<&Path>,
    mut show: impl FnMut(Option<&str>, &str) -> Result<(), CliError>,
) -> Result<(), CliError> {
    let name = elf.display().to_string();
    let wrong = |message: String, help: &str| {
        CliError::from(Diagnostic::for_file(&name, message, help))
    };
    let help = "give the image as it was linked, with its symbols, not the stripped one";
    let image = bytes(elf)?;
    let table = Table::parse(&image)
        .map_err(|why| {
            wrong(
                format!("its messages cannot be read: {}", sanitized(&why.to_string(), 200)),
                help,
            )
        })?
        .ok_or_else(|| wrong("this image has no messages".to_owned(), help))?;
    let mut decoder = table.new_stream_decoder();
    let mut stream = Stream::open(port, file)?;
    let mut unread = Unread::default();
    while let Some(bytes) = stream.next()? {
        decoder.received(&bytes);
        unread.more(bytes.len());
        loop {
            match decoder.decode() {
                Ok(frame) => {
                    unread = Unread::default();
                    let text = sanitized(&frame.display(false).to_string(), CHARS_MAX);
                    show(frame.level().map(|level| level.as_str()), &text)?;
                }
                Err(DecodeError::UnexpectedEof) if !unread.is_too_much() => break,
                Err(DecodeError::Malformed) if table.encoding().can_recover() => {
                    unread = Unread::default();
                }
                Err(DecodeError::UnexpectedEof | DecodeError::Malformed) => {
                    let help = "give the image that runs on the device, and the right --baud";
                    return Err(wrong(
                        "the stream does not come from this image".to_owned(),
                        help,
                    ));
                }
            }
        }
    }
    Ok(())
}

fn bytes(path: &Path) -> Result<Vec<u8>, CliError> {
    let name = path.display().to_string();
    Ok(saggar_files::plain_file::read_bytes(path, IMAGE_BYTES_MAX)
        .map_err(|fault| fault.diagnostic(&name))?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stream_without_messages_is_given_up() {
        let mut unread = Unread::default();
        let mut reads = 0;
        while !unread.is_too_much() {
            unread.more(4096);
            reads += 1;
        }
        assert_eq!(reads, 17, "64 KiB may wait, and not a read more");
        unread.more(usize::MAX);
        assert!(unread.is_too_much());
    }
}
