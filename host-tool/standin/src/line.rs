//! Where a stand-in listens: an address of this machine, or a terminal that looks like a serial
//! port.

use std::fmt;
use std::net::{SocketAddr, TcpListener};
use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use crate::Error;
use crate::desks::Multiplexer;
#[cfg(unix)]
use crate::desks::Terminal;
use saggar_client::link::port::Place;

/// The system is asked about the line no more often than this: a stand-in at full speed lives
/// through twenty ticks meanwhile, and a call costs a tenth of a tick.
pub(super) const LOOK: Duration = Duration::from_micros(200);

/// Longest time in which the rest of what was said is handed over at the end.
const FAREWELL: Duration = Duration::from_secs(1);

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

/// A line that is open: at an address for many desks at once, through a terminal for one.
pub struct Line {
    /// What a desk gives as its port.
    name: String,
    /// Where more desks come from.
    listener: Option<TcpListener>,
    desks: Multiplexer,
    looked: Option<Clock>,
}

impl Line {
    /// Opens a line.
    ///
    /// # Errors
    /// The address is taken, or the system gives no terminal.
    pub fn open(listen: &Listen) -> Result<Self, Error> {
        let failed = |why| Error::Line { place: listen.to_string(), why };
        match listen {
            Listen::Tcp(address) => {
                let listener = TcpListener::bind(address).map_err(failed)?;
                listener.set_nonblocking(true).map_err(failed)?;
                let name = format!("tcp:{}", listener.local_addr().map_err(failed)?);
                Ok(Self { listener: Some(listener), ..Self::elsewhere(name) })
            }
            #[cfg(unix)]
            Listen::Pty => {
                let (terminal, name) = Terminal::open().map_err(failed)?;
                let mut line = Self::elsewhere(name);
                line.desks.add(Box::new(terminal), Clock::now());
                Ok(line)
            }
            #[cfg(not(unix))]
            Listen::Pty => Err(failed(std::io::ErrorKind::Unsupported.into())),
        }
    }

    /// A line that something else serves.
    pub fn elsewhere(name: String) -> Self {
        Self { name, listener: None, desks: Multiplexer::default(), looked: None }
    }

    /// What a desk gives as its port.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Carries bytes both ways if it is time to look; whether it was.
    pub fn look(&mut self) -> bool {
        let now = Clock::now();
        if self.looked.is_some_and(|last| now.duration_since(last) < LOOK) {
            return false;
        }
        self.looked = Some(now);
        self.accept(now);
        self.desks.carry(now);
        true
    }

    /// Takes all who wait, as long as there is a place for them. The others wait on: the system has
    /// a queue.
    fn accept(&mut self, now: Clock) {
        let Some(listener) = &self.listener else { return };
        while self.desks.has_place(now) {
            let Ok((stream, _)) = listener.accept() else { return };
            if stream.set_nonblocking(true).is_ok() && stream.set_nodelay(true).is_ok() {
                self.desks.add(Box::new(stream), now);
            }
        }
    }

    /// A tick is over: the device has said this of its own, and may be given as many frames again.
    pub fn tell(&mut self, said: &[u8]) {
        self.desks.tell(said);
        self.desks.refill();
    }

    /// The next frame for the device, whose time is this (ms).
    pub fn next(&mut self, now_ms: u64) -> Option<Vec<u8>> {
        self.desks.next(Clock::now(), now_ms)
    }

    /// What the device has said to that frame.
    pub fn answer(&mut self, said: &[u8]) {
        self.desks.answer(said);
    }

    /// Hands over what was answered.
    pub fn write(&mut self) {
        self.desks.write(Clock::now());
    }

    /// A desk reads, but more slowly than a stand-in lives: the next tick has to wait for it.
    pub fn is_slow(&self) -> bool {
        self.desks.is_slow()
    }

    /// Hands over what waits, as far as the desks take it within a second: nothing comes after.
    pub fn finish(&mut self) {
        let since = Clock::now();
        while self.desks.has_more() && since.elapsed() < FAREWELL {
            self.write();
            std::thread::sleep(LOOK);
        }
    }
}
