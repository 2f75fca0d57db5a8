//! The clients of a stand-in: several at once, although a device has only one link.

mod connection;
mod greetings;
mod multiplexer;
#[cfg(test)]
mod tests;
mod transport;

pub(super) use multiplexer::Multiplexer;
#[cfg(unix)]
pub(super) use transport::Terminal;
