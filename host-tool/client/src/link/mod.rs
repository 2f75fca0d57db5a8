//! The line to a device: ports, frames, and what is said over them.
//!
//! An [`Exchange`] is a state machine that knows neither port nor clock: it is told the time and
//! the frames that arrived, and says which frame goes out next. [`Line`] runs one over a
//! [`port`]; the tests run the same over a simulated line.

mod agreement;
mod carrier;
mod device;
mod exchange;
mod failed;
mod fetch;
mod following;
mod frames;
mod hearsay;
mod line;
mod log;
mod outcome;
pub mod port;
mod question;
mod session;
mod upload;

pub use carrier::Carrier;
pub use device::{Desk, OnRetry, Undone};
pub use exchange::{Exchange, Pace};
pub use failed::{Deed, Failed};
pub use fetch::{Fetch, What};
pub use following::{Batch, Beside, Farewell, Following, News};
pub use frames::Frames;
pub use hearsay::text_of;
pub use line::Line;
pub use log::Log;
pub use outcome::{Arrived, ReadBack};
pub use question::{Asking, Heard, Once, Question};
pub use session::Session;
pub use upload::{Orders, Task};
