//! The device's end of the line: bytes to frames, and who may give orders.
//!
//! Nothing here knows what an order does; that is the [`Device`](crate::Device)'s. A flood is dropped, not
//! queued; a frame that never ends is forgotten; an order without the right seal is no order.

mod receiver;
mod sessions;

pub use receiver::{BYTES_PER_TICK, Receiver};
pub use sessions::{
    Identity, LOCK_OUT_MS, OFFERS_MAX, OrderCheck, SESSION_TIMEOUT_MS, Sessions,
    WRONG_SEALS_MAX,
};
