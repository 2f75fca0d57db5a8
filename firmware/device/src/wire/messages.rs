//! The messages. postcard numbers variants by their order: new ones go to the end, and a change
//! of meaning takes a new [`super::PROTOCOL`].
//!
//! What has to be known of a message is said here and nowhere else; one place more does what it
//! asks for. Whoever waits for one kind of message looks for that one, not at a list of all.

use heapless::Vec;
use saggar_core::events::EventKind;
use saggar_core::furnace::FurnaceError;
use saggar_core::interlock::Cause;
use saggar_core::programme::{DIGEST_BYTES, ImageError, Violation};
use saggar_core::sequencer::Ending;
use serde::{Deserialize, Serialize};

use super::comparison::RANDOM_BYTES;
use super::seal::{DEVICE_ID_BYTES, SEAL_BYTES};
use super::tick::Tick;

/// Bytes of either side's number that makes a session new.
pub const NONCE_BYTES: usize = SEAL_BYTES;

/// Most bytes of a programme in one [`Order::Chunk`]. All but the last have as many.
pub const CHUNK_BYTES: usize = 240;

/// Most lines of the log in one [`Tell::Log`].
pub const LOG_ENTRIES_MAX: usize = 8;

/// A question that anyone may ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Query {
    /// Who is there? The desk's number makes the session that it may open with a key.
    Hello {
        /// Drawn by the desk, new every time.
        #[serde(deserialize_with = "super::bytes::array")]
        nonce: [u8; NONCE_BYTES],
    },
    /// How does the furnace stand?
    Status,
    /// Tell me of every tick, or stop telling.
    Subscribe(Subscription),
    /// The log from this line on.
    Log {
        /// Number of the first line wanted.
        from: u32,
    },
    /// The bytes of the active programme as they lie in flash.
    Programme {
        /// First byte wanted.
        offset: u16,
    },
    /// The furnace's data as the device knows them.
    Furnace {
        /// First byte wanted.
        offset: u16,
    },
}

/// What to tell without being asked again. Ends by itself a minute after the last question.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Subscription {
    /// A [`Tell::Tick`] after every tick, begun by a [`Tell::Origin`].
    pub ticks: bool,
    /// A [`Tell::Status`] after every tenth tick.
    pub status: bool,
}

/// Something that the desk wants done. It takes the device's key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Order<'a> {
    /// A programme is coming. Not while a firing runs.
    Begin {
        /// How many bytes it has.
        bytes: u16,
        /// SHA-256 of them.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
        /// Digest of the furnace's data for which it was cleared.
        #[serde(deserialize_with = "super::bytes::array")]
        furnace: [u8; DIGEST_BYTES],
    },
    /// The next bytes of it.
    Chunk {
        /// Where they belong.
        offset: u16,
        /// At most [`CHUNK_BYTES`].
        data: &'a [u8],
    },
    /// That was all: verify it, and make it the active programme.
    Commit {
        /// SHA-256 of all of it.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
    },
    /// End the firing, heat off. The only order that a running firing obeys.
    Stop,
    /// After a commit: the hash of a number that the desk has drawn for the code that a person
    /// compares.
    Pledge {
        /// [`super::pledge`] of it.
        #[serde(deserialize_with = "super::bytes::array")]
        hash: [u8; DIGEST_BYTES],
    },
    /// The number that was pledged: the device shows the code now.
    Reveal {
        /// The number.
        #[serde(deserialize_with = "super::bytes::array")]
        number: [u8; RANDOM_BYTES],
    },
}

impl Order<'_> {
    /// It waits for nothing: it is obeyed out of its turn, and while a firing runs.
    pub const fn is_urgent(&self) -> bool {
        matches!(self, Self::Stop)
    }

    /// Others may be under way with it.
    pub const fn is_pipelined(&self) -> bool {
        matches!(self, Self::Chunk { .. })
    }

    /// The device erases or hashes its flash before it answers.
    pub const fn is_slow(&self) -> bool {
        matches!(self, Self::Begin { .. } | Self::Commit { .. })
    }

    /// The answer says that this was done.
    pub fn is_completed_by(&self, answer: &Answer) -> bool {
        match self {
            Self::Begin { .. } => matches!(answer, Answer::Begun),
            Self::Chunk { offset, data } => {
                matches!(answer, Answer::Staged { bytes }
                    if usize::from(*bytes) == usize::from(*offset).saturating_add(data.len()))
            }
            Self::Commit { digest: sent } => {
                matches!(answer, Answer::Committed { digest } if digest == sent)
            }
            Self::Stop => matches!(answer, Answer::Stopping),
            Self::Pledge { .. } => matches!(answer, Answer::Drawn { .. }),
            Self::Reveal { .. } => matches!(answer, Answer::Agreed),
        }
    }
}

/// What a device says to anyone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Notice<'a> {
    /// Who is there.
    Hello(Hello),
    /// How the furnace stands.
    Status(DeviceStatus),
    /// The core's memory before the next tick; ticks follow.
    #[serde(borrow)]
    Origin(Origin<'a>),
    /// One tick.
    Tick(Tick),
    /// Lines of the log.
    Log {
        /// Number that the next line to be written will have.
        next: u32,
        /// Some of those asked for, in order; none if there are no more.
        lines: Vec<LogEntry, LOG_ENTRIES_MAX>,
    },
    /// A piece of the active programme.
    #[serde(borrow)]
    Programme(Chunk<'a>),
    /// A piece of the furnace's data: postcard.
    #[serde(borrow)]
    Furnace(Chunk<'a>),
    /// Not understood, or not done.
    Refused(Refusal),
}

/// Who is there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello {
    /// The device's name.
    #[serde(deserialize_with = "super::bytes::array")]
    pub device: [u8; DEVICE_ID_BYTES],
    /// Its number for the session; zeros if it has no key, or cannot count.
    #[serde(deserialize_with = "super::bytes::array")]
    pub nonce: [u8; NONCE_BYTES],
    /// It has a key: whoever holds the same may upload and stop.
    pub has_key: bool,
    /// Version of its image: major, minor, patch.
    #[serde(deserialize_with = "super::bytes::array")]
    pub version: [u8; 3],
    /// Number of this boot: they rise, with gaps. 0 if its flash does not count any more.
    pub boot: u32,
    /// Digest of the furnace's data.
    #[serde(deserialize_with = "super::bytes::array")]
    pub furnace: [u8; DIGEST_BYTES],
    /// Digest of the active programme.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; DIGEST_BYTES]>,
    /// Orders that it takes without waiting for an answer to the first.
    pub window: u8,
}

/// How the furnace stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DeviceStatus {
    /// Time since the device came up (ms).
    pub at_ms: u64,
    /// The first eight hexadecimal digits of the active programme's digest, as four bytes.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; 4]>,
    /// The step at hand, from 0, while a firing runs.
    pub step: Option<u8>,
    /// What the control follows (thousandths of °C).
    pub setpoint_mc: Option<i32>,
    /// Filtered reading of the control channel (thousandths of °C), if it is believed.
    pub reading_mc: Option<i32>,
    /// Absolute pressure (Pa).
    pub pressure_pa: Option<u32>,
    /// Mains cycles that conducted in the last tick.
    pub cycles: u8,
    /// Mains cycles in a tick.
    pub cycles_per_tick: u8,
    /// The operator is wanted.
    pub operator_wanted: bool,
    /// The latched cause.
    pub tripped: Option<Cause>,
    /// How the last firing ended.
    pub ended: Option<Ending>,
    /// Number that the next line of the log will have.
    pub log_next: u32,
    /// Frames that arrived broken since the device came up.
    pub bad_frames: u32,
    /// A programme in flash was found damaged and is not used.
    pub damaged: bool,
}

/// The core's memory at the beginning of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Origin<'a> {
    /// Number of the last tick; the next is one more.
    pub number: u32,
    /// Digest of the programme loaded.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; DIGEST_BYTES]>,
    /// The core's own memory.
    pub memory: &'a [u8],
}

/// Some bytes of something longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Chunk<'a> {
    /// Where they belong.
    pub offset: u16,
    /// How many there are in all.
    pub total: u16,
    /// The bytes.
    pub data: &'a [u8],
}

/// One line of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LogEntry {
    /// Its number; they only rise.
    pub number: u32,
    /// Which time the device was up.
    pub boot: u32,
    /// When, since then (s).
    pub at_s: u32,
    /// What.
    pub event: LogEvent,
}

/// What a line of the log says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LogEvent {
    /// The device came up.
    Booted,
    /// Something happened in the core.
    Core(EventKind),
    /// A programme is about to be made the active one: the beginning of its digest. Where the flash
    /// then refuses it, the one before stays, and if it was confirmed a line says so again.
    Programme([u8; 4]),
    /// A desk with the key asked for a stop.
    StopRequested,
    /// Frames with a wrong seal: a lock-out. Older images wrote a line for each.
    LegacyLockOut,
    /// Lines were lost: the flash took no more.
    EntriesLost(u16),
    /// So many lock-outs since the device came up, or since the last such line.
    LockOuts(u32),
    /// Somebody at the device confirmed the active programme: bytes 4 to 7 of its digest.
    Confirmed([u8; 4]),
}

/// What a device says of an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// Room is made: send.
    Begun,
    /// So many bytes of the programme are in flash and were read back.
    Staged {
        /// Bytes from the first on.
        bytes: u16,
    },
    /// This is the active programme now.
    Committed {
        /// Its digest, computed anew from the flash.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
    },
    /// The firing is being stopped, or there was none.
    Stopping,
    /// An order before this one got lost: send again from it on.
    Expected {
        /// Its sequence number.
        sequence: u32,
    },
    /// Not done: the programme that would run, and whether it is confirmed, are as before. An upload
    /// that was on its way is given up.
    Refused(Refusal),
    /// The number that the device has drawn after a pledge; none if its board cannot draw any.
    Drawn {
        /// The number.
        #[serde(deserialize_with = "super::bytes::optional_array")]
        number: Option<[u8; RANDOM_BYTES]>,
    },
    /// The code is on the display.
    Agreed,
}

/// Why a device did not do what it was asked to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
    /// It speaks another version of the protocol: its own.
    OtherProtocol(u8),
    /// The message cannot be read.
    Unreadable,
    /// It has no key: one must be set at the device.
    NoKey,
    /// Its flash does not count any more, so that it cannot open a session.
    NoBootCounter,
    /// No session: say hello first.
    NoSession,
    /// The seal is not that of this session.
    WrongSeal,
    /// A wrong seal, and many came before it: a lock-out, which lasts this long (s). An order with
    /// the right seal is obeyed meanwhile.
    LockedOut(u16),
    /// A firing is running.
    FiringRunning,
    /// A programme has at least one byte and at most so many.
    BadSize(u16),
    /// It was cleared for a furnace of other data.
    OtherFurnace,
    /// No programme was begun, or this is not the piece that comes next.
    OutOfOrder,
    /// The bytes are not those of the digest, or no programme.
    BadProgramme(ImageError),
    /// The device's own furnace data are unfit to be trusted with heat.
    UnfitFurnace(FurnaceError),
    /// This furnace must not run it.
    Forbidden {
        /// The first finding.
        first: Violation,
        /// How many there are.
        count: u16,
    },
    /// The flash does not do what it should; the old programme is still there. Only a flash that
    /// cannot be read either may show the new one at the next start, as one to be confirmed.
    FlashFailed,
}
