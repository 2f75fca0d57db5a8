//! Messages between client and device, and the frames that carry them. `docs/wire.md` specifies both.
//!
//! A frame is `COBS(protocol ‖ kind ‖ ... ‖ CRC-32) ‖ 0`. There are four kinds:
//!
//! | kind | from | content |
//! | --- | --- | --- |
//! | 1 | client | [`Query`] |
//! | 2 | client | sequence number, [`Order`], seal |
//! | 3 | device | [`Notice`] |
//! | 4 | device | sequence number, [`Answer`], seal |
//!
//! Queries need no key. An order, which changes something on the device, bears a [`seal`] that only
//! a holder of the device's key can make, valid for one session and one sequence number. No message
//! starts heat, accepts a trip, or changes the furnace's data.

pub(crate) mod bytes;
mod comparison;
mod frame;
mod messages;
pub mod seal;
mod tick;

pub use comparison::{RANDOM_BYTES, comparison_code, pledge};
pub use frame::{
    BODY_BYTES_MAX, FRAME_BYTES_MAX, FrameBody, FrameError, FrameKind, decode_frame,
    decode_sealed, encode_frame,
};
pub use messages::{
    Answer, CHUNK_BYTES, Chunk, DeviceStatus, Hello, LOG_ENTRIES_MAX, LogEntry, LogEvent,
    NONCE_BYTES, Notice, Order, Origin, Query, Refusal, Subscription,
};
pub use tick::{ChannelSample, TICK_WORDS, Tick};

/// Version of the protocol, the first byte of every frame.
pub const PROTOCOL: u8 = 2;
