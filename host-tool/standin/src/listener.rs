//! Where a stand-in listens: an address of this machine, or a terminal that looks like a serial
//! port.

use std::fmt;
use std::net::{SocketAddr, TcpListener};
use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use crate::StandInError;
use crate::clients::Multiplexer;
#[cfg(unix)]
use crate::clients::Terminal;
use saggar_client::link::port::PortAddress;

/// The system is asked about the line no more often than this: a stand-in at full speed lives
/// through twenty ticks meanwhile, and a call costs a tenth of a tick.
pub(super) const POLL_INTERVAL: Duration = Duration::from_micros(200);

/// Longest time in which the rest of what was said is handed over at the end.
const FINAL_FLUSH_MAX: Duration = Duration::from_secs(1);

/// Where to listen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ListenAddress {
    /// At an address of this machine.
    Tcp(SocketAddr),
    /// At a new terminal, whose name is told.
    Pty,
}

impl FromStr for ListenAddress {
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
            PortAddress::Tcp(address) => Ok(Self::Tcp(address)),
            PortAddress::Serial(_) => Err("give tcp:127.0.0.1:PORT, or pty".to_owned()),
        }
    }
}

impl fmt::Display for ListenAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tcp(address) => write!(f, "tcp:{address}"),
            Self::Pty => f.write_str("pty"),
        }
    }
}

/// A line that is open: at an address for many desks at once, through a terminal for one.
pub struct Listener {
    /// What a desk gives as its port.
    address: String,
    /// Where more desks come from.
    socket: Option<TcpListener>,
    clients: Multiplexer,
    polled_at: Option<Clock>,
}

impl Listener {
    /// Opens a line.
    ///
    /// # Errors
    /// The address is taken, or the system gives no terminal.
    pub fn open(listen: &ListenAddress) -> Result<Self, StandInError> {
        let failed = |why| StandInError::Listen { address: listen.to_string(), cause: why };
        match listen {
            ListenAddress::Tcp(address) => {
                let listener = TcpListener::bind(address).map_err(failed)?;
                listener.set_nonblocking(true).map_err(failed)?;
                let name = format!("tcp:{}", listener.local_addr().map_err(failed)?);
                Ok(Self { socket: Some(listener), ..Self::external(name) })
            }
            #[cfg(unix)]
            ListenAddress::Pty => {
                let (terminal, name) = Terminal::open().map_err(failed)?;
                let mut line = Self::external(name);
                line.clients.add(Box::new(terminal), Clock::now());
                Ok(line)
            }
            #[cfg(not(unix))]
            ListenAddress::Pty => Err(failed(std::io::ErrorKind::Unsupported.into())),
        }
    }

    /// A line that something else serves.
    pub fn external(name: String) -> Self {
        Self { address: name, socket: None, clients: Multiplexer::default(), polled_at: None }
    }

    /// What a desk gives as its port.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Carries bytes both ways if it is time to look; whether it was.
    pub fn poll(&mut self) -> bool {
        let now = Clock::now();
        if self.polled_at.is_some_and(|last| now.duration_since(last) < POLL_INTERVAL) {
            return false;
        }
        self.polled_at = Some(now);
        self.accept(now);
        self.clients.carry(now);
        true
    }

    /// Takes all who wait, as long as there is a place for them. The others wait on: the system has
    /// a queue.
    fn accept(&mut self, now: Clock) {
        let Some(listener) = &self.socket else { return };
        while self.clients.accepts_client(now) {
            let Ok((stream, _)) = listener.accept() else { return };
            if stream.set_nonblocking(true).is_ok() && stream.set_nodelay(true).is_ok() {
                self.clients.add(Box::new(stream), now);
            }
        }
    }

    /// A tick is over: the device has said this of its own, and may be given as many frames again.
    pub fn broadcast(&mut self, said: &[u8]) {
        self.clients.broadcast(said);
        self.clients.on_tick();
    }

    /// The next frame for the device, whose time is this (ms).
    pub fn next_frame(&mut self, now_ms: u64) -> Option<Vec<u8>> {
        self.clients.next_frame(Clock::now(), now_ms)
    }

    /// What the device has said to that frame.
    pub fn reply(&mut self, said: &[u8]) {
        self.clients.reply(said);
    }

    /// Hands over what was answered.
    pub fn write(&mut self) {
        self.clients.write(Clock::now());
    }

    /// A desk reads, but more slowly than a stand-in lives: the next tick has to wait for it.
    pub fn is_slow(&self) -> bool {
        self.clients.is_slow()
    }

    /// Hands over what waits, as far as the desks take it within a second: nothing comes after.
    pub fn flush(&mut self) {
        let since = Clock::now();
        while self.clients.has_pending_output() && since.elapsed() < FINAL_FLUSH_MAX {
            self.write();
            std::thread::sleep(POLL_INTERVAL);
        }
    }
}
