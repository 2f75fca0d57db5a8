//! What carries the bytes of a desk to a stand-in and back: a connection within this machine, or a
//! terminal. Neither ever waits.

use std::io::{self, ErrorKind, Read as _, Write as _};
use std::net::TcpStream;

/// Carries bytes.
pub(crate) trait Transport {
    /// Reads what has come: how many bytes; `None` once the other end has gone.
    fn read(&mut self, room: &mut [u8]) -> Option<usize>;

    /// Writes what fits: how many bytes; `None` once the other end has gone.
    fn write(&mut self, bytes: &[u8]) -> Option<usize>;
}

impl Transport for TcpStream {
    fn read(&mut self, room: &mut [u8]) -> Option<usize> {
        moved((&*self).read(room))
            .filter(|bytes| *bytes != Some(0))
            .map(Option::unwrap_or_default)
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        moved((&*self).write(bytes)).map(Option::unwrap_or_default)
    }
}

/// How many bytes were moved, `Some(None)` if none can be for now, `None` if none ever will be.
fn moved(done: io::Result<usize>) -> Option<Option<usize>> {
    match done {
        Ok(bytes) => Some(Some(bytes)),
        Err(why) => {
            let later = [ErrorKind::WouldBlock, ErrorKind::Interrupted, ErrorKind::TimedOut];
            later.contains(&why.kind()).then_some(None)
        }
    }
}

/// A pair of terminals: the stand-in's end, and the one that a desk opens.
#[cfg(unix)]
pub(crate) struct Terminal {
    near: serialport::TTYPort,
    #[expect(dead_code, reason = "keeps the other end open while no desk has it")]
    far: serialport::TTYPort,
}

#[cfg(unix)]
impl Terminal {
    /// Opens one; its name for a desk.
    pub(crate) fn open() -> io::Result<(Self, String)> {
        use serialport::SerialPort as _;
        let (mut near, far) = serialport::TTYPort::pair()?;
        near.set_timeout(std::time::Duration::ZERO)?;
        let name = far.name().unwrap_or_default();
        Ok((Self { near, far }, name))
    }
}

/// A terminal stays, whoever comes and goes at its other end.
#[cfg(unix)]
impl Transport for Terminal {
    fn read(&mut self, room: &mut [u8]) -> Option<usize> {
        Some(self.near.read(room).unwrap_or(0))
    }

    fn write(&mut self, bytes: &[u8]) -> Option<usize> {
        Some(self.near.write(bytes).unwrap_or(0))
    }
}
