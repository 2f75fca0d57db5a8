//! What a desk and a device say to each other: the messages, and the frames that carry them.
//!
//! A frame is `COBS(protocol ‖ kind ‖ ... ‖ CRC-32) ‖ 0`. There are four kinds:
//!
//! | kind | from | what follows |
//! | --- | --- | --- |
//! | 1 | desk | [`Ask`] |
//! | 2 | desk | sequence number, [`Order`], seal |
//! | 3 | device | [`Tell`] |
//! | 4 | device | sequence number, [`Answer`], seal |
//!
//! Whoever reads needs no key. Whatever changes something on the device bears a [`seal`] that
//! only the holder of the device's key can make, and that is good for one session and one place
//! in it. There is no message that starts heat, accepts a trip, or changes the furnace's data.

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

/// Version of the protocol: every frame begins with it.
pub const PROTOCOL: u8 = 1;
