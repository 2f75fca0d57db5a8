//! The desks at a stand-in: several at once, on what a device takes for its one line.

mod connection;
mod greetings;
mod multiplexer;
#[cfg(test)]
mod tests;
mod transport;

pub(super) use multiplexer::Multiplexer;
#[cfg(unix)]
pub(super) use transport::Terminal;
