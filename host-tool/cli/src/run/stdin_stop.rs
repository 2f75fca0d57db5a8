//! What the user types while a command runs: Ctrl-C, or `stop` on standard input.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A flag that Ctrl-C sets. If the handler cannot be installed, Ctrl-C kills the program: a stand-in
/// survives that, and a log ends in the middle of a record.
pub(super) fn end_asked() -> Arc<AtomicBool> {
    let end = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&end);
    let _ = ctrlc::set_handler(move || asked.store(true, Ordering::Relaxed));
    end
}

/// Longest line that is compared with `stop`.
const LINE_BYTES_MAX: usize = 32;

/// Reads standard input for the line `stop`.
pub(super) struct StdinStop(Arc<AtomicBool>);

impl StdinStop {
    /// Reads in a thread until standard input ends.
    pub(super) fn listen() -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let heard = Arc::clone(&stop);
        std::thread::spawn(move || {
            let mut line = LineBuffer::default();
            let mut buffer = [0; 256];
            while let Ok(bytes @ 1..) = read(&mut buffer) {
                for byte in buffer.get(..bytes).unwrap_or(&[]) {
                    if line.ends_stop(*byte) {
                        heard.store(true, Ordering::Relaxed);
                    }
                }
            }
        });
        Self(stop)
    }

    /// True once after the line was typed.
    pub(super) fn stop(&self) -> bool {
        self.0.swap(false, Ordering::Relaxed)
    }
}

/// Reads what there is. The system suspends a background process that reads from its terminal, and
/// the recording with it, so this reads only in the foreground.
#[cfg(unix)]
fn read(buffer: &mut [u8]) -> io::Result<usize> {
    use std::os::fd::AsFd as _;

    use nix::errno::Errno;
    use nix::poll::{PollFd, PollFlags, PollTimeout, poll};
    use nix::unistd::{getpgrp, tcgetpgrp};

    let input = io::stdin();
    loop {
        let mut watched = [PollFd::new(input.as_fd(), PollFlags::POLLIN)];
        match poll(&mut watched, PollTimeout::from(200u8)) {
            Ok(0) | Err(Errno::EINTR) => continue,
            Ok(_) => {}
            Err(why) => return Err(why.into()),
        }
        match tcgetpgrp(&input) {
            Ok(group) if group != getpgrp() => {
                std::thread::sleep(std::time::Duration::from_millis(200));
            }
            // In the foreground, or not a terminal.
            Ok(_) | Err(_) => return Ok(nix::unistd::read(&input, buffer)?),
        }
    }
}

#[cfg(not(unix))]
fn read(buffer: &mut [u8]) -> io::Result<usize> {
    io::Read::read(&mut io::stdin(), buffer)
}

/// The line being typed.
#[derive(Debug, Default)]
struct LineBuffer {
    bytes: Vec<u8>,
    /// It is too long.
    overflowed: bool,
}

impl LineBuffer {
    /// Takes a byte; true if it ends the line `stop`.
    fn ends_stop(&mut self, byte: u8) -> bool {
        if byte != b'\n' {
            self.overflowed |= self.bytes.len() == LINE_BYTES_MAX;
            if !self.overflowed {
                self.bytes.push(byte);
            }
            return false;
        }
        let bytes = std::mem::take(&mut self.bytes);
        !std::mem::take(&mut self.overflowed)
            && bytes.trim_ascii().eq_ignore_ascii_case(b"stop")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stops(text: &[u8]) -> usize {
        let mut line = LineBuffer::default();
        text.iter().filter(|byte| line.ends_stop(**byte)).count()
    }

    #[test]
    fn only_the_line_stop_stops() {
        for (text, wanted) in [
            (&b"stop\n"[..], 1),
            (b"  Stop \r\nSTOP\n", 2),
            (b"stop", 0),
            (b"s\nsto\nstopp\nno stop\nstop now\n\n", 0),
            (b"\xffstop\nstop\n", 1),
        ] {
            assert_eq!(stops(text), wanted, "{}", String::from_utf8_lossy(text));
        }
        let mut long = vec![b' '; 10_000];
        long.extend(b"stop\nstop\n");
        assert_eq!(stops(&long), 1, "a line without end stops nothing, and hides no stop");
    }
}
