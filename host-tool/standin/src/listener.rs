//! Where a stand-in listens: at an address of this machine, or at a pseudo-terminal.

use std::fmt;
use std::net::{SocketAddr, TcpListener};
use std::str::FromStr;
use std::time::{Duration, Instant as Clock};

use crate::StandInError;
use crate::clients::Multiplexer;
#[cfg(unix)]
use crate::clients::Terminal;
use saggar_client::link::port::PortAddress;

/// Least time between two polls of the connections. At full speed twenty ticks pass meanwhile, and a
/// system call costs a tenth of a tick.
pub(super) const POLL_INTERVAL: Duration = Duration::from_micros(200);

/// Longest time for writing the queued bytes at the end.
const FINAL_FLUSH_MAX: Duration = Duration::from_secs(1);

/// Where to listen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ListenAddress {
    /// At an address of this machine.
    Tcp(SocketAddr),
    /// At a new pseudo-terminal, whose name is shown.
    Pty,
}

impl FromStr for ListenAddress {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "pty" {
            return if cfg!(unix) {
                Ok(Self::Pty)
            } else {
                Err("this system has no pseudo-terminals: listen at tcp:127.0.0.1:7430".into())
            };
        }
        match text.parse()? {
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

/// An open listener: for many clients at an address, for one at a pseudo-terminal.
pub struct Listener {
    /// The port that a client has to open.
    address: String,
    /// Accepts more clients.
    socket: Option<TcpListener>,
    clients: Multiplexer,
    is_external: bool,
    polled_at: Option<Clock>,
}

impl Listener {
    /// Starts to listen.
    ///
    /// # Errors
    /// The address is in use, or the system has no pseudo-terminals.
    pub fn open(listen: &ListenAddress) -> Result<Self, StandInError> {
        let failed = |why| StandInError::Listen { address: listen.to_string(), cause: why };
        match listen {
            ListenAddress::Tcp(address) => {
                let listener = TcpListener::bind(address).map_err(failed)?;
                listener.set_nonblocking(true).map_err(failed)?;
                let name = format!("tcp:{}", listener.local_addr().map_err(failed)?);
                Ok(Self { socket: Some(listener), is_external: false, ..Self::external(name) })
            }
            #[cfg(unix)]
            ListenAddress::Pty => {
                let (terminal, name) = Terminal::open().map_err(failed)?;
                let mut line = Self { is_external: false, ..Self::external(name) };
                line.clients.add(Box::new(terminal), Clock::now());
                Ok(line)
            }
            #[cfg(not(unix))]
            ListenAddress::Pty => Err(failed(std::io::ErrorKind::Unsupported.into())),
        }
    }

    /// A listener that something else serves.
    pub fn external(name: String) -> Self {
        let clients = Multiplexer::default();
        Self { address: name, socket: None, clients, is_external: true, polled_at: None }
    }

    /// Whether something else serves it.
    pub const fn is_external(&self) -> bool {
        self.is_external
    }

    /// The port that a client has to open.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Reads and writes the connections if a poll is due. Returns whether it was.
    pub fn poll(&mut self) -> bool {
        let now = Clock::now();
        if self.polled_at.is_some_and(|last| now.duration_since(last) < POLL_INTERVAL) {
            return false;
        }
        self.polled_at = Some(now);
        self.accept(now);
        self.clients.transfer(now);
        true
    }

    /// Accepts clients while there are places. The others stay in the system's queue.
    fn accept(&mut self, now: Clock) {
        let Some(listener) = &self.socket else { return };
        while self.clients.accepts_client(now) {
            let Ok((stream, _)) = listener.accept() else { return };
            if stream.set_nonblocking(true).is_ok() && stream.set_nodelay(true).is_ok() {
                self.clients.add(Box::new(stream), now);
            }
        }
    }

    /// After a tick: delivers the device's updates, and lets it have as many frames again.
    pub fn broadcast(&mut self, bytes: &[u8]) {
        self.clients.broadcast(bytes);
        self.clients.on_tick();
    }

    /// The next frame for the device, at this time of the device (ms).
    pub fn next_frame(&mut self, now_ms: u64) -> Option<Vec<u8>> {
        self.clients.next_frame(Clock::now(), now_ms)
    }

    /// Delivers the device's reply to that frame.
    pub fn reply(&mut self, bytes: &[u8]) {
        self.clients.reply(bytes);
    }

    /// Writes the replies.
    pub fn write(&mut self) {
        self.clients.write(Clock::now());
    }

    /// Whether a client reads so slowly that the next tick has to wait.
    pub fn is_slow(&self) -> bool {
        self.clients.is_slow()
    }

    /// Writes the queued bytes at the end, for a second at most.
    pub fn flush(&mut self) {
        let since = Clock::now();
        while self.clients.has_pending_output() && since.elapsed() < FINAL_FLUSH_MAX {
            self.write();
            std::thread::sleep(POLL_INTERVAL);
        }
    }
}
