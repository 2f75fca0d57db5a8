//! The device's end of the link: bytes to frames, and sessions that decide who may give orders.
//!
//! What an order does is the [`Device`](crate::Device)'s business. Nothing is queued here: excess
//! bytes are dropped, a frame that never ends is forgotten, and an order without the right seal is
//! refused.

mod receiver;
mod sessions;

pub use receiver::{BYTES_PER_TICK, Receiver};
pub use sessions::{
    Identity, LOCK_OUT_MS, OFFERS_MAX, OrderCheck, SESSION_TIMEOUT_MS, Sessions,
    WRONG_SEALS_MAX,
};
