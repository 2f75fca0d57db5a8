//! Ports: a serial port, or a TCP connection within this machine.

use std::fmt;
use std::io::{self, ErrorKind, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream, ToSocketAddrs as _};
use std::str::FromStr;
use std::time::Duration;

use serialport::SerialPort;

use super::LinkError;
use saggar_files::sanitized;

/// Timeout for connecting and for writing.
const CONNECT_TIMEOUT: Duration = Duration::from_secs(5);

/// Prefix of a TCP address.
const TCP_PREFIX: &str = "tcp:";

/// The port of a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortAddress {
    /// A serial port, by its name in the system.
    Serial(String),
    /// An address of this machine.
    Tcp(SocketAddr),
}

/// A port and its rate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortConfig {
    /// The port.
    pub address: PortAddress,
    /// Rate of a serial port (bit/s); not used for TCP.
    pub baud: u32,
}

impl FromStr for PortAddress {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let Some(address) = text.strip_prefix(TCP_PREFIX) else {
            if text.is_empty() {
                return Err("give a port: /dev/ttyACM0, COM3 or tcp:127.0.0.1:7430".into());
            }
            if text.parse::<SocketAddr>().is_ok() || text.starts_with("localhost:") {
                return Err(format!("did you mean {TCP_PREFIX}{text}?"));
            }
            return Ok(Self::Serial(text.to_owned()));
        };
        let no_address = || {
            format!(
                "`{address}` is not an address such as tcp:127.0.0.1:7430; of names only localhost is \
                 accepted"
            )
        };
        // No other name is looked up: it could be another machine's.
        let known = match address.strip_prefix("localhost:") {
            Some(port) => format!("127.0.0.1:{port}"),
            None => address.to_owned(),
        };
        let at = known
            .parse::<SocketAddr>()
            .ok()
            .and_then(|at| at.to_socket_addrs().ok()?.next())
            .ok_or_else(no_address)?;
        if at.ip().is_loopback() {
            Ok(Self::Tcp(at))
        } else {
            Err(format!(
                "{at} is not this machine: the protocol is not encrypted and must not go over a \
                 network; forward the port through a tunnel and give tcp:127.0.0.1:PORT"
            ))
        }
    }
}

impl fmt::Display for PortAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial(name) => f.write_str(&sanitized(name, 200)),
            Self::Tcp(at) => write!(f, "{TCP_PREFIX}{at}"),
        }
    }
}

/// An open port.
pub enum Port {
    /// A serial port, or a pseudo-terminal.
    Serial(Box<dyn SerialPort>),
    /// A connection within this machine.
    Tcp(TcpStream),
}

impl Port {
    /// Opens a port.
    ///
    /// # Errors
    /// Why it cannot be opened.
    pub fn open(PortConfig { address: place, baud }: &PortConfig) -> Result<Self, LinkError> {
        let failed = |why: &str| LinkError::Port(format!("{place} cannot be opened: {why}"));
        match place {
            PortAddress::Serial(name) => serialport::new(name, *baud)
                .open()
                .map(Self::Serial)
                .map_err(|error| failed(&serial_error_text(&error))),
            PortAddress::Tcp(at) => {
                let connected =
                    TcpStream::connect_timeout(at, CONNECT_TIMEOUT).and_then(|stream| {
                        stream.set_nodelay(true)?;
                        stream.set_write_timeout(Some(CONNECT_TIMEOUT))?;
                        Ok(stream)
                    });
                connected.map(Self::Tcp).map_err(|error| failed(io_error_text(error.kind())))
            }
        }
    }

    /// Reads what has arrived, waiting at most this long: 0 bytes if nothing came.
    ///
    /// # Errors
    /// The connection is lost.
    pub fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Result<usize, LinkError> {
        // Neither port accepts a timeout of zero.
        let wait = wait.max(Duration::from_millis(1));
        let read = match self {
            Self::Serial(port) => match port.set_timeout(wait) {
                Ok(()) => port.read(buffer),
                Err(error) => Err(error.into()),
            },
            Self::Tcp(stream) => {
                stream.set_read_timeout(Some(wait)).and_then(|()| stream.read(buffer))
            }
        };
        match read {
            Ok(0) => Err(connection_lost(ErrorKind::UnexpectedEof)),
            Ok(bytes) => Ok(bytes),
            Err(error) if is_timeout(error.kind()) => Ok(0),
            Err(error) => Err(connection_lost(error.kind())),
        }
    }

    /// Writes all bytes.
    ///
    /// # Errors
    /// The connection is lost.
    pub fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let written = match self {
            Self::Serial(port) => port
                .set_timeout(CONNECT_TIMEOUT)
                .map_err(io::Error::from)
                .and_then(|()| port.write_all(bytes)),
            Self::Tcp(stream) => stream.write_all(bytes),
        };
        written.map_err(|error| connection_lost(error.kind()))
    }
}

/// What the C library calls `ENOTTY` and `EISDIR`; the serial library hands on no more than that text.
const NOT_A_TERMINAL: &str = "Not a typewriter";
const IS_A_FOLDER: &str = "Is a directory";

fn is_timeout(kind: ErrorKind) -> bool {
    matches!(kind, ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

fn connection_lost(kind: ErrorKind) -> LinkError {
    if kind == ErrorKind::UnexpectedEof {
        let why = "the other end closed the connection: it has ended, or has too many clients";
        return LinkError::Port(why.to_owned());
    }
    LinkError::Port(format!(
        "the connection to the device is lost ({kind}): check that it is plugged in and switched on"
    ))
}

fn serial_error_text(error: &serialport::Error) -> String {
    match error.kind {
        serialport::ErrorKind::NoDevice => {
            "there is no such port, or another program uses it: check the name, or end that \
             program. If it is `saggar device watch --key`, you can type stop there to stop the \
             firing"
                .to_owned()
        }
        serialport::ErrorKind::InvalidInput => {
            "it is not a serial port, or does not support this --baud".to_owned()
        }
        serialport::ErrorKind::Io(kind) => io_error_text(kind).to_owned(),
        serialport::ErrorKind::Unknown if error.description == IS_A_FOLDER => {
            "it is a folder: give a serial port such as /dev/ttyACM0 or COM3".to_owned()
        }
        serialport::ErrorKind::Unknown if error.description == NOT_A_TERMINAL => {
            "it is not a serial port: give one such as /dev/ttyACM0 or COM3".to_owned()
        }
        serialport::ErrorKind::Unknown => sanitized(&error.description, 100),
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "the standard library may add kinds")]
fn io_error_text(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::NotFound => {
            "there is no such port: check the name, and that it is plugged in"
        }
        ErrorKind::PermissionDenied => {
            "you may not use it: on Linux, your user must be in the port's group (often dialout)"
        }
        ErrorKind::ConnectionRefused => {
            "nothing listens there: start the stand-in (`saggar standin`), or give the port that \
             it shows"
        }
        ErrorKind::TimedOut => "nothing answers there",
        ErrorKind::ResourceBusy => "another program uses it: end that program",
        _ => "the system refuses",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_loopback_addresses_are_accepted() {
        for good in
            ["tcp:127.0.0.1:7430", "tcp:127.9.9.9:1", "tcp:[::1]:7430", "tcp:localhost:80"]
        {
            let place: PortAddress = good.parse().expect(good);
            assert!(matches!(place, PortAddress::Tcp(at) if at.ip().is_loopback()), "{good}");
        }
        for bad in [
            "tcp:192.168.1.5:7430",
            "tcp:0.0.0.0:7430",
            "tcp:10.0.0.1:80",
            "tcp:[::]:80",
            "tcp:[fe80::1]:80",
            "tcp:[::ffff:10.0.0.1]:80",
            "tcp:8.8.8.8:53",
        ] {
            let why = bad.parse::<PortAddress>().expect_err(bad);
            assert!(
                why.contains("is not this machine") && why.contains("tunnel"),
                "{bad}: {why}"
            );
        }
        for bad in ["tcp:", "tcp:example.org:80", "tcp:127.0.0.1", "tcp:localhost.evil:80", ""]
        {
            bad.parse::<PortAddress>().expect_err(bad);
        }
        for bad in ["127.0.0.1:7430", "[::1]:7430", "localhost:7430"] {
            let why = bad.parse::<PortAddress>().expect_err(bad);
            assert_eq!(why, format!("did you mean tcp:{bad}?"));
        }
        let why = "tcp:nosuch.invalid:1".parse::<PortAddress>().expect_err("a name");
        assert!(why.ends_with("of names only localhost is accepted"), "{why}");
    }

    #[test]
    fn anything_else_is_a_serial_port() {
        for name in ["/dev/ttyACM0", "COM3", "/dev/pts/4"] {
            assert_eq!(name.parse(), Ok(PortAddress::Serial(name.to_owned())));
        }
    }

    #[test]
    #[cfg(unix)]
    fn a_file_or_folder_that_is_no_terminal_is_called_that() {
        for (name, why) in [
            ("/dev/null", "it is not a serial port: give"),
            ("/dev", "it is a folder: give a serial port"),
        ] {
            let address = name.parse().unwrap();
            let error = Port::open(&PortConfig { address, baud: 115_200 }).err().unwrap();
            assert!(error.to_string().contains(why), "{error}");
        }
    }
}
