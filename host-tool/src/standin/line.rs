//! Where a stand-in listens: an address of this machine, or a terminal that looks like a serial
//! port.

use std::fmt;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use super::Unable;
use crate::link::port::Place;

/// Most bytes that wait for a desk that does not read; more are dropped, as on a real line.
const WAITING_MAX: usize = 1 << 16;

/// Most bytes that are taken from the line at once.
const TAKEN_MAX: usize = 1024;

/// The system is asked about the line no more often than this: a stand-in at full speed lives
/// through twenty ticks meanwhile, and a call costs a tenth of a tick.
const LOOK: Duration = Duration::from_micros(200);

/// So many bytes may wait before a desk that reads is waited for, and for how long at once.
const SLOW: usize = 1 << 15;
const PATIENCE: Duration = Duration::from_millis(500);

/// So many bytes are handed over without waiting for that.
const HANDFUL: usize = 4096;

/// Where to listen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Listen {
    /// At an address of this machine.
    Tcp(SocketAddr),
    /// At a new terminal, whose name is told.
    Pty,
}

impl FromStr for Listen {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        if typed == "pty" {
            return if cfg!(unix) {
                Ok(Self::Pty)
            } else {
                Err("this system has no pseudo-terminals: listen at tcp:127.0.0.1:7430".into())
            };
        }
        match typed.parse()? {
            Place::Here(address) => Ok(Self::Tcp(address)),
            Place::Serial(_) => Err("give tcp:127.0.0.1:PORT, or pty".to_owned()),
        }
    }
}

impl fmt::Display for Listen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tcp(address) => write!(f, "tcp:{address}"),
            Self::Pty => f.write_str("pty"),
        }
    }
}

/// A line that is open. One desk at a time.
pub struct Line {
    /// What a desk gives as its port.
    name: String,
    end: End,
    waiting: Vec<u8>,
    looked: Option<Clock>,
    handed: Option<Clock>,
    /// The last byte taken ended a frame.
    whole: bool,
}

enum End {
    Tcp(TcpListener, Option<TcpStream>),
    #[cfg(unix)]
    Pty(
        serialport::TTYPort,
        #[expect(dead_code, reason = "keeps the other end open")] serialport::TTYPort,
    ),
    /// The emulator itself has it.
    Elsewhere,
}

impl Line {
    /// Opens a line.
    ///
    /// # Errors
    /// The address is taken, or the system gives no terminal.
    pub fn open(listen: &Listen) -> Result<Self, Unable> {
        let failed = |why| Unable::Line { place: listen.to_string(), why };
        match listen {
            Listen::Tcp(address) => {
                let listener = TcpListener::bind(address).map_err(failed)?;
                listener.set_nonblocking(true).map_err(failed)?;
                let address = listener.local_addr().map_err(failed)?;
                let name = format!("tcp:{address}");
                Ok(Self {
                    name,
                    end: End::Tcp(listener, None),
                    waiting: Vec::new(),
                    looked: None,
                    handed: None,
                    whole: true,
                })
            }
            #[cfg(unix)]
            Listen::Pty => {
                use serialport::SerialPort as _;
                let opened = serialport::TTYPort::pair();
                let (mut near, far) = opened.map_err(|why| failed(io::Error::from(why)))?;
                near.set_timeout(Duration::ZERO).map_err(|why| failed(io::Error::from(why)))?;
                let name = far.name().unwrap_or_default();
                Ok(Self {
                    name,
                    end: End::Pty(near, far),
                    waiting: Vec::new(),
                    looked: None,
                    handed: None,
                    whole: true,
                })
            }
            #[cfg(not(unix))]
            Listen::Pty => Err(failed(ErrorKind::Unsupported.into())),
        }
    }

    /// A line that something else serves.
    pub fn elsewhere(name: String) -> Self {
        Self {
            name,
            end: End::Elsewhere,
            waiting: Vec::new(),
            looked: None,
            handed: None,
            whole: true,
        }
    }

    /// What a desk gives as its port.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What has come.
    pub fn take(&mut self) -> Vec<u8> {
        if !due(&mut self.looked) {
            return Vec::new();
        }
        let mut room = [0; TAKEN_MAX];
        let read = match &mut self.end {
            End::Tcp(listener, desk) => {
                if let Ok((stream, _)) = listener.accept()
                    && stream.set_nonblocking(true).is_ok()
                    && stream.set_nodelay(true).is_ok()
                {
                    // A desk that comes later takes the line over: the one before has gone.
                    *desk = Some(stream);
                    self.waiting.clear();
                }
                let Some(stream) = desk else { return Vec::new() };
                let read = stream.read(&mut room);
                if matches!(read, Ok(0)) || matches!(&read, Err(why) if gone(why)) {
                    *desk = None;
                }
                read
            }
            #[cfg(unix)]
            End::Pty(near, _) => near.read(&mut room),
            End::Elsewhere => Ok(0),
        };
        let came = room.get(..read.unwrap_or(0)).unwrap_or(&[]).to_vec();
        self.whole = came.last().map_or(self.whole, |last| *last == 0);
        came
    }

    /// What the line shall take.
    pub fn put(&mut self, bytes: &[u8]) {
        self.waiting.extend_from_slice(bytes);
        if self.waiting.is_empty() || (self.waiting.len() < HANDFUL && !due(&mut self.handed)) {
            return;
        }
        self.hand();
        // A desk that reads, but more slowly than a stand-in lives, is waited for.
        let since = Clock::now();
        while self.waiting.len() > SLOW && self.between_frames() && since.elapsed() < PATIENCE {
            std::thread::sleep(LOOK);
            self.hand();
        }
    }

    /// A desk is there, and all that it has begun to say is said.
    pub fn between_frames(&self) -> bool {
        let there = match &self.end {
            End::Tcp(_, desk) => desk.is_some(),
            #[cfg(unix)]
            End::Pty(..) => true,
            End::Elsewhere => false,
        };
        there && self.whole
    }

    /// Hands over what waits, as far as the desk takes it within a second: nothing comes after.
    pub fn finish(&mut self) {
        let since = Clock::now();
        while !self.waiting.is_empty() && since.elapsed() < Duration::from_secs(1) {
            self.hand();
            std::thread::sleep(LOOK);
        }
    }

    fn hand(&mut self) {
        let written = match &mut self.end {
            End::Tcp(_, Some(stream)) => stream.write(&self.waiting),
            #[cfg(unix)]
            End::Pty(near, _) => near.write(&self.waiting),
            // Nobody is there: a line does not keep what is said to nobody.
            End::Tcp(_, None) | End::Elsewhere => Ok(self.waiting.len()),
        };
        let written = written.unwrap_or(0).min(self.waiting.len());
        self.waiting.drain(..written);
        if self.waiting.len() > WAITING_MAX {
            self.waiting.clear();
        }
    }
}

/// Whether it is time again; then it is marked.
fn due(last: &mut Option<Clock>) -> bool {
    let now = Clock::now();
    let due = last.is_none_or(|last| now.duration_since(last) >= LOOK);
    if due {
        *last = Some(now);
    }
    due
}

fn gone(why: &io::Error) -> bool {
    !matches!(why.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted | ErrorKind::TimedOut)
}
