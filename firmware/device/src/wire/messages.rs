//! The messages. postcard numbers variants by their order: new ones go to the end, and a change
//! of meaning takes a new [`super::PROTOCOL`]. `docs/wire.md` lists variants and fields; a test
//! compares it with this file.

use heapless::Vec;
use saggar_core::controller::{Bookmark, StartError};
use saggar_core::events::EventKind;
use saggar_core::furnace::FurnaceError;
use saggar_core::interlock::Cause;
use saggar_core::programme::{DIGEST_BYTES, ImageError, Violation};
use saggar_core::sequencer::{Ending, Wait};
use serde::{Deserialize, Serialize};

use super::comparison::RANDOM_BYTES;
use super::seal::{DEVICE_ID_BYTES, SEAL_BYTES};
use super::tick::Tick;

/// Bytes of a nonce, the device's or the client's.
pub const NONCE_BYTES: usize = SEAL_BYTES;

/// Bytes of a programme in one [`Order::Chunk`]; only the last chunk has fewer.
pub const CHUNK_BYTES: usize = 240;

/// Most log entries in one [`Notice::Log`].
pub const LOG_ENTRIES_MAX: usize = 8;

/// A query, which needs no key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Query {
    /// A greeting, which also offers a session to a client with the key.
    Hello {
        /// Drawn by the client, new for each session.
        #[serde(deserialize_with = "super::bytes::array")]
        nonce: [u8; NONCE_BYTES],
    },
    /// Asks for a [`DeviceStatus`].
    Status,
    /// Starts or ends a subscription.
    Subscribe(Subscription),
    /// Asks for log entries.
    Log {
        /// Number of the first entry wanted.
        from: u32,
    },
    /// Asks for bytes of the active programme in flash.
    Programme {
        /// Offset of the first byte wanted.
        offset: u16,
    },
    /// Asks for bytes of the furnace's data in flash.
    Furnace {
        /// Offset of the first byte wanted.
        offset: u16,
    },
}

/// What the device sends unasked. Ends a minute after the last query of any kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Subscription {
    /// A [`Notice::Tick`] after every tick, after a first [`Notice::Origin`].
    pub ticks: bool,
    /// A [`Notice::Status`] after every tenth tick.
    pub status: bool,
}

/// An order, which needs the device's key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Order<'a> {
    /// Begins the upload of a programme; refused during a firing.
    Begin {
        /// Length of the programme in bytes.
        bytes: u16,
        /// SHA-256 of the programme.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
        /// Digest of the furnace's data that the programme was cleared for.
        #[serde(deserialize_with = "super::bytes::array")]
        furnace: [u8; DIGEST_BYTES],
    },
    /// The next bytes of the programme.
    Chunk {
        /// Offset of the first of them.
        offset: u16,
        /// At most [`CHUNK_BYTES`].
        data: &'a [u8],
    },
    /// Ends the upload: verify the programme and make it the active one.
    Commit {
        /// SHA-256 of the whole programme.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
    },
    /// Ends the firing, heat off. The only order that is obeyed during a firing.
    Stop,
    /// After a commit: the hash of the random number that the client has drawn for the comparison
    /// code.
    Pledge {
        /// [`super::pledge`] of the number.
        #[serde(deserialize_with = "super::bytes::array")]
        hash: [u8; DIGEST_BYTES],
    },
    /// The number that was pledged; the device then shows the code.
    Reveal {
        /// The number.
        #[serde(deserialize_with = "super::bytes::array")]
        number: [u8; RANDOM_BYTES],
    },
}

impl Order<'_> {
    /// Obeyed out of sequence, and during a firing.
    pub const fn is_urgent(&self) -> bool {
        matches!(self, Self::Stop)
    }

    /// Several may be under way before the first is answered.
    pub const fn is_pipelined(&self) -> bool {
        matches!(self, Self::Chunk { .. })
    }

    /// The device erases or hashes flash before it answers.
    pub const fn is_slow(&self) -> bool {
        matches!(self, Self::Begin { .. } | Self::Commit { .. })
    }

    /// Whether this answer confirms the order.
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

/// An unsealed message of the device, to anyone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Notice<'a> {
    /// Reply to a greeting.
    Hello(Hello),
    /// State of the firing and of the device.
    Status(DeviceStatus),
    /// The core's state before the next tick; ticks follow.
    #[serde(borrow)]
    Origin(Origin<'a>),
    /// One tick.
    Tick(Tick),
    /// Entries of the log.
    Log {
        /// Number that the next new entry will get.
        next: u32,
        /// The first of those asked for, in order, without any that this firmware cannot decode; empty if
        /// there are no more.
        entries: Vec<LogEntry, LOG_ENTRIES_MAX>,
    },
    /// Bytes of the active programme.
    #[serde(borrow)]
    Programme(Chunk<'a>),
    /// Bytes of the furnace's data, as postcard.
    #[serde(borrow)]
    Furnace(Chunk<'a>),
    /// A frame was not understood, or its query or order not carried out.
    Refused(Refusal),
}

/// Reply to a greeting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hello {
    /// Device id, padded with zeros.
    #[serde(deserialize_with = "super::bytes::array")]
    pub device: [u8; DEVICE_ID_BYTES],
    /// The device's nonce for the session; zeros if it has no key or cannot count boots.
    #[serde(deserialize_with = "super::bytes::array")]
    pub nonce: [u8; NONCE_BYTES],
    /// A key is set: who holds it may upload and stop.
    pub has_key: bool,
    /// Version of the firmware: major, minor, patch.
    #[serde(deserialize_with = "super::bytes::array")]
    pub version: [u8; 3],
    /// Boot number: rises, with gaps; 0 if the flash can no longer count.
    pub boot: u32,
    /// Digest of the furnace's data.
    #[serde(deserialize_with = "super::bytes::array")]
    pub furnace: [u8; DIGEST_BYTES],
    /// Digest of the loaded programme.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; DIGEST_BYTES]>,
    /// Orders that may be under way before the first is answered.
    pub window: u8,
}

/// State of the firing and of the device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DeviceStatus {
    /// Time since boot (ms).
    pub at_ms: u64,
    /// First four bytes of the loaded programme's digest.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; 4]>,
    /// Current step, from 0, during a firing.
    pub step: Option<u8>,
    /// Steps of the loaded programme; 0 without one.
    pub steps: u8,
    /// Setpoint (thousandths of °C).
    pub setpoint_mc: Option<i32>,
    /// Filtered reading of the control channel (thousandths of °C), if it is believed.
    pub reading_mc: Option<i32>,
    /// Filtered reading of the limit channel (thousandths of °C), if it is believed.
    pub limit_mc: Option<i32>,
    /// Absolute pressure (Pa).
    pub pressure_pa: Option<u32>,
    /// Mains cycles of the last tick in which the heater conducts.
    pub cycles: u8,
    /// Mains cycles in a tick.
    pub cycles_per_tick: u8,
    /// A hold waits for the operator.
    pub operator_wanted: bool,
    /// The latched trip.
    pub tripped: Option<Cause>,
    /// How the last firing ended.
    pub ended: Option<Ending>,
    /// Number that the next log entry will get.
    pub log_next: u32,
    /// Damaged frames received since boot.
    pub bad_frames: u32,
    /// A programme in flash was found damaged and is not used.
    pub damaged: bool,
    /// Contact "shut" of the closure.
    pub shut: bool,
    /// Contact "open" of the closure.
    pub open: bool,
    /// Auxiliary contact of the contactor.
    pub contactor_closed: bool,
    /// Heater current over the last tick (mA rms).
    pub heater_current_ma: Option<u32>,
    /// The readings and the pressure allow that the chamber is opened.
    pub may_open: bool,
    /// What the firing waits for.
    pub waiting: Option<Wait>,
    /// The firing that a power cut interrupted, until start or stop is pressed.
    pub interrupted: Option<Bookmark>,
    /// Why the last press of start began nothing.
    pub start_error: Option<StartError>,
    /// In this firing the heater has carried less current than expected, but enough to go on.
    pub heater_weak: bool,
}

/// State of the core from which a replay starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Origin<'a> {
    /// Number of the last tick before.
    pub number: u32,
    /// Digest of the loaded programme.
    #[serde(deserialize_with = "super::bytes::optional_array")]
    pub programme: Option<[u8; DIGEST_BYTES]>,
    /// Snapshot of the core.
    pub memory: &'a [u8],
}

/// Some bytes of a longer whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Chunk<'a> {
    /// Offset of the first of them.
    pub offset: u16,
    /// Length of the whole.
    pub total: u16,
    /// The bytes.
    pub data: &'a [u8],
}

/// One entry of the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LogEntry {
    /// Rises from entry to entry, with gaps.
    pub number: u32,
    /// Boot number of the boot that wrote it; 0 if unknown.
    pub boot: u32,
    /// Time since that boot (s).
    pub at_s: u32,
    /// What happened.
    pub event: LogEvent,
}

/// What an entry of the log records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LogEvent {
    /// The device booted.
    Booted,
    /// An event of the core.
    Core(EventKind),
    /// A commit is about to make a programme the active one: first bytes of its digest. If the flash
    /// then fails, the old programme stays, and its confirmation is logged again.
    Programme([u8; 4]),
    /// A client with the key ordered a stop.
    StopRequested,
    /// A lock-out after wrong seals. Written by older firmware only.
    LegacyLockOut,
    /// Number of entries that the flash did not take.
    EntriesLost(u16),
    /// Number of lock-outs since boot, or since the last such entry.
    LockOuts(u32),
    /// The active programme was confirmed at the device: bytes 4 to 7 of its digest.
    Confirmed([u8; 4]),
    /// First line of the bookmark from which a firing can go on after a power cut.
    FiringPosition {
        /// The step, from 0.
        step: u8,
        /// Time inside the band, or at the end of a move, that counts (s).
        gathered_s: u16,
    },
    /// Second line of the bookmark.
    FiringState {
        /// Last reading (°C).
        reading_c: i16,
        /// Flags of a [`Bookmark`].
        flags: u8,
    },
}

/// The sealed answer to an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// The slot is erased: send the chunks.
    Begun,
    /// A chunk is in flash and was read back.
    Staged {
        /// Bytes of the programme that are in flash.
        bytes: u16,
    },
    /// The programme is now the active one.
    Committed {
        /// Its digest, computed anew from flash.
        #[serde(deserialize_with = "super::bytes::array")]
        digest: [u8; DIGEST_BYTES],
    },
    /// The firing is being stopped, if one runs.
    Stopping,
    /// Earlier orders were lost: send again from this one on.
    Expected {
        /// Sequence number of the first that is missing.
        sequence: u32,
    },
    /// Not carried out: the active programme and its confirmation are as before. A refused
    /// begin or commit, and any order but a stop during a firing, aborts an upload.
    Refused(Refusal),
    /// The random number that the device has drawn after a pledge; none if its board has no source.
    Drawn {
        /// The number.
        #[serde(deserialize_with = "super::bytes::optional_array")]
        number: Option<[u8; RANDOM_BYTES]>,
    },
    /// The device now shows the code.
    Agreed,
}

/// Why a device refuses a query or an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
    /// The device speaks another version of the protocol: this one.
    OtherProtocol(u8),
    /// The message cannot be decoded.
    Unreadable,
    /// No key is set. It is set at the device.
    NoKey,
    /// The flash can no longer count boots, so there can be no session.
    NoBootCounter,
    /// No session is open or offered: greet first.
    NoSession,
    /// The seal is not that of a session of this device.
    WrongSeal,
    /// A wrong seal during a lock-out, or the one that starts it; time left (s). Orders with the
    /// right seal are obeyed all the same.
    LockedOut(u16),
    /// A firing is running: only a stop is obeyed.
    FiringRunning,
    /// A programme has at least one byte and at most this many.
    BadSize(u16),
    /// The programme was cleared for other furnace data.
    OtherFurnace,
    /// The order does not fit what came before it: not the next chunk, a commit before all bytes are
    /// there, a pledge or number that is not expected or not the one pledged.
    OutOfOrder,
    /// The bytes do not have the digest, or are no programme.
    BadProgramme(ImageError),
    /// The device's own furnace data cannot be trusted with heat.
    UnfitFurnace(FurnaceError),
    /// The programme breaks rules of this furnace.
    Forbidden {
        /// The first violation.
        first: Violation,
        /// Number of violations.
        count: u16,
    },
    /// The flash failed; the old programme is still active. Only if the flash cannot be read either
    /// may the next boot find the new one there, and announce it as unconfirmed.
    FlashFailed,
    /// A firing that a power cut interrupted waits for the operator: start goes on with it, stop discards
    /// it.
    FiringInterrupted,
}
