//! What the user types while a command runs: Ctrl-C, or lines on standard input.

use std::io::{self, Read};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use saggar_client::UserRequest;
use saggar_files::sanitized;

/// A flag that Ctrl-C sets. If the handler cannot be installed, Ctrl-C kills the program: a stand-in
/// survives that, and a log ends in the middle of a record.
pub fn end_asked() -> Arc<AtomicBool> {
    let end = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&end);
    let _ = ctrlc::set_handler(move || asked.store(true, Ordering::Relaxed));
    end
}

/// Longest line that is compared with `stop`.
const LINE_BYTES_MAX: usize = 32;

/// The lines typed at standard input.
#[derive(Clone, Default)]
pub struct TypedLines {
    pending: Arc<Mutex<PendingLines>>,
    /// Lines that the terminal has shown since the view was last drawn.
    pub echoed: Arc<AtomicUsize>,
}

/// What was typed and not taken yet.
#[derive(Debug, Default)]
struct PendingLines {
    stop: bool,
    /// The last line that is neither `stop` nor empty.
    unknown: Option<String>,
}

impl TypedLines {
    /// Reads in a thread until standard input ends.
    pub fn listen() -> Self {
        let typed = Self::default();
        let heard = typed.clone();
        std::thread::spawn(move || {
            let mut line = LineBuffer::default();
            let mut buffer = [0; 256];
            while let Ok(bytes @ 1..) = ForegroundInput.read(&mut buffer) {
                for byte in buffer.get(..bytes).unwrap_or(&[]) {
                    if let Some(line) = line.push(*byte) {
                        heard.echoed.fetch_add(1, Ordering::Relaxed);
                        heard.lock().take(line);
                    }
                }
            }
        });
        typed
    }

    /// What the user asks for by the lines typed since the last call; a stop goes first.
    pub fn request(&self) -> UserRequest {
        let mut pending = self.lock();
        if std::mem::take(&mut pending.stop) {
            return UserRequest::StopFiring;
        }
        pending.unknown.take().map_or(UserRequest::Continue, UserRequest::Unknown)
    }

    fn lock(&self) -> MutexGuard<'_, PendingLines> {
        // The lines are valid even if the other thread has panicked.
        self.pending.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl PendingLines {
    fn take(&mut self, line: String) {
        if line.eq_ignore_ascii_case("stop") {
            self.stop = true;
        } else if !line.is_empty() {
            self.unknown = Some(line);
        }
    }
}

/// Standard input. The system suspends a background process that reads from its terminal, and the
/// recording or the stand-in with it, so this reads only in the foreground.
pub struct ForegroundInput;

#[cfg(unix)]
impl Read for ForegroundInput {
    /// Reads what there is.
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
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
}

#[cfg(not(unix))]
impl Read for ForegroundInput {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        io::stdin().read(buffer)
    }
}

/// The line being typed.
#[derive(Debug, Default)]
struct LineBuffer {
    bytes: Vec<u8>,
    /// It is too long.
    overflowed: bool,
}

impl LineBuffer {
    /// Takes a byte; returns the line that it ends, trimmed. One that is too long ends in "…".
    fn push(&mut self, byte: u8) -> Option<String> {
        if byte != b'\n' {
            self.overflowed |= self.bytes.len() == LINE_BYTES_MAX;
            if !self.overflowed {
                self.bytes.push(byte);
            }
            return None;
        }
        let bytes = std::mem::take(&mut self.bytes);
        let line = String::from_utf8_lossy(bytes.trim_ascii());
        let rest = if std::mem::take(&mut self.overflowed) { "…" } else { "" };
        Some(sanitized(&line, LINE_BYTES_MAX) + rest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lines of a text, each as it is taken: `true` for a stop, and what is unknown.
    fn taken(text: &[u8]) -> (usize, Vec<String>) {
        let (mut line, mut stops, mut unknown) = (LineBuffer::default(), 0, Vec::new());
        for line in text.iter().filter_map(|byte| line.push(*byte)) {
            let mut pending = PendingLines::default();
            pending.take(line);
            stops += usize::from(pending.stop);
            unknown.extend(pending.unknown);
        }
        (stops, unknown)
    }

    #[test]
    fn only_the_line_stop_stops_and_every_other_word_is_returned() {
        for (text, stops, unknown) in [
            (&b"stop\n"[..], 1, &[][..]),
            (b"  Stop \r\nSTOP\n", 2, &[]),
            (b"stop", 0, &[]),
            (b"s\nstpo\nstop now\n\n", 0, &["s", "stpo", "stop now"]),
            (b"\xffstop\nstop\n", 1, &["\u{fffd}stop"]),
        ] {
            let unknown: Vec<String> = unknown.iter().map(|line| (*line).to_owned()).collect();
            assert_eq!(taken(text), (stops, unknown), "{}", String::from_utf8_lossy(text));
        }
        let mut long = vec![b' '; 10_000];
        long.extend(b"stop\nstop\n");
        let wanted = (1, vec!["…".to_owned()]);
        assert_eq!(taken(&long), wanted, "a line without end stops nothing, and hides no stop");
    }
}
