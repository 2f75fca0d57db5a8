//! The link to a device: ports, frames and transactions.
//!
//! A [`Transaction`] is a state machine that knows neither port nor clock: it is given the time and
//! the frames that arrived, and says which frame to send next. [`PortLink`] runs transactions over
//! a [`port`]; the tests run them over a simulated link.

mod agreement;
mod client;
mod error;
mod fetch;
mod frames;
mod interface;
mod log;
mod orders;
pub mod port;
mod port_link;
mod query;
mod recovery;
mod sanitize;
mod session;
mod subscriber;
mod transaction;

pub use client::{Client, OnRetry, OrderError};
pub use error::{LinkError, UnansweredOrder};
pub use fetch::{FetchQuery, FetchTarget};
pub use frames::FrameAssembler;
pub use interface::Link;
pub use log::LogQuery;
pub use orders::{OrderSequence, Task};
pub use port_link::PortLink;
pub use query::{QuerySeries, QueryTransaction, ReplyMatch, SingleQuery};
pub use recovery::{ReadBack, UploadOutcome};
pub use sanitize::printable_name;
pub use session::Session;
pub use subscriber::{DeviceUpdate, Subscriber, Unsubscribe, UpdateBatch, WithSubscriber};
pub use transaction::{Timeouts, Transaction};
