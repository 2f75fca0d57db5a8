//! Non-blocking transports for the bytes of a client: a TCP connection, or a pseudo-terminal.

use std::io::{self, ErrorKind, Read as _, Write as _};
use std::net::TcpStream;

/// A non-blocking stream of bytes.
pub(crate) trait Transport {
    /// Reads the bytes that have arrived: their number; `None` once the other end has closed.
    fn read(&mut self, buffer: &mut [u8]) -> Option<usize>;

    /// Writes what fits: the number of bytes; `None` once the other end has closed.
    fn write(&mut self, bytes: &[u8]) -> Option<usize>;
}

impl Transport for TcpStream {
    fn read(&mut self, buffer: &mut [u8]) -> Option<usize> {
        moved((&*self).read(buffer))
            .filter(|bytes| *bytes != Some(0))
            .map(Option::unwrap_or_default)
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        moved((&*self).write(bytes)).map(Option::unwrap_or_default)
    }
}

/// The number of bytes moved; `Some(None)` if none can be moved now, `None` after an error.
fn moved(result: io::Result<usize>) -> Option<Option<usize>> {
    match result {
        Ok(bytes) => Some(Some(bytes)),
        Err(why) => {
            let later = [ErrorKind::WouldBlock, ErrorKind::Interrupted, ErrorKind::TimedOut];
            later.contains(&why.kind()).then_some(None)
        }
    }
}

/// A pair of pseudo-terminals: the stand-in's end, and the one that a client opens.
#[cfg(unix)]
pub(crate) struct Terminal {
    near: serialport::TTYPort,
    #[expect(dead_code, reason = "keeps the other end open while no client has it")]
    far: serialport::TTYPort,
}

#[cfg(unix)]
impl Terminal {
    /// Opens one; returns the name that a client opens.
    pub(crate) fn open() -> io::Result<(Self, String)> {
        use serialport::SerialPort as _;
        let (mut near, far) = serialport::TTYPort::pair()?;
        near.set_timeout(std::time::Duration::ZERO)?;
        let name = far.name().unwrap_or_default();
        Ok((Self { near, far }, name))
    }
}

/// A terminal never closes, whichever clients come and go.
#[cfg(unix)]
impl Transport for Terminal {
    fn read(&mut self, buffer: &mut [u8]) -> Option<usize> {
        Some(self.near.read(buffer).unwrap_or(0))
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        Some(self.near.write(bytes).unwrap_or(0))
    }
}
