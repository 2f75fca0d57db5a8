//! Why a transaction with a device failed, and what the user can do about it.

use std::fmt;

use saggar_device::wire::{PROTOCOL, Refusal};

/// Why a transaction with a device failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkError {
    /// No answer came after all attempts.
    NoAnswer {
        /// Frames that arrived broken meanwhile.
        broken_frames: u32,
    },
    /// The port cannot be opened, or was lost.
    Port(String),
    /// The device speaks this other version of the protocol.
    ProtocolVersion(u8),
    /// The device refused.
    Refused(Refusal),
    /// A reply that no correct device sends.
    InvalidReply(&'static str),
    /// An upload did not become the active programme, as a later query showed. The error that made
    /// the query necessary.
    NotActivated(Box<Self>),
    /// The last order was sent and not answered, and the device could not be queried afterwards.
    /// The error that made the query necessary.
    OutcomeUnknown(UnansweredOrder, Box<Self>),
}

/// An order whose answer did not arrive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnansweredOrder {
    /// Makes a programme the active one.
    Upload,
    /// Ends the firing.
    Stop,
}

impl LinkError {
    /// Adds the number of broken frames to a [`Self::NoAnswer`].
    pub(super) fn with_broken_frames(self, broken_frames: u32) -> Self {
        if matches!(self, Self::NoAnswer { .. }) {
            Self::NoAnswer { broken_frames }
        } else {
            self
        }
    }

    /// The connection failed, so that another one may work.
    pub const fn is_connection_failure(&self) -> bool {
        matches!(self, Self::NoAnswer { .. } | Self::Port(_))
    }
}

impl std::error::Error for LinkError {}

impl fmt::Display for LinkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoAnswer { broken_frames: 0 } => f.write_str(
                "no device answers: check that it is on, that this is its port, and --baud",
            ),
            Self::NoAnswer { broken_frames } => write!(
                f,
                "no intact answer arrives, only {broken_frames} broken frames: check --baud, and that no \
                 other program uses the port"
            ),
            Self::Port(why) => f.write_str(why),
            Self::ProtocolVersion(version) => write!(
                f,
                "the device speaks version {version} of the protocol and this tool version \
                 {PROTOCOL}: install matching versions"
            ),
            Self::Refused(refusal) => {
                write!(f, "the device refuses: {}", refusal_text(refusal))
            }
            Self::InvalidReply(what) => write!(
                f,
                "the device sent an invalid reply ({what}): check that this is its port, and that \
                 its image is intact"
            ),
            Self::NotActivated(why) => write!(
                f,
                "the upload failed, and the device still has its old programme: upload again ({why})"
            ),
            Self::OutcomeUnknown(UnansweredOrder::Upload, why) => write!(
                f,
                "it is not known which programme is active: the connection failed before the device \
                 answered. Before you start anything, check with `saggar device info` ({why})"
            ),
            Self::OutcomeUnknown(UnansweredOrder::Stop, why) => write!(
                f,
                "it is not known whether the firing was stopped: the order was sent, and no answer \
                 came. Press stop at the furnace ({why})"
            ),
        }
    }
}

/// What a refusal means and what to do about it. Why a programme is forbidden is worded by the
/// command, which knows the furnace.
fn refusal_text(refusal: &Refusal) -> String {
    let said = match refusal {
        Refusal::OtherProtocol(version) => {
            return format!(
                "it speaks version {version} of the protocol, this tool version {PROTOCOL}; install \
                 matching versions"
            );
        }
        Refusal::Unreadable => {
            "it does not know this message; install matching versions of tool and image"
        }
        Refusal::NoKey => {
            "it has no key, so it takes no orders. Start a stand-in with `--key FILE`; store a key \
             in a board with the file that `saggar device settings --key FILE` makes"
        }
        Refusal::NoBootCounter => {
            "its flash can no longer count its boots, which sessions need; have the flash replaced"
        }
        Refusal::NoSession => "it has no open session, perhaps because it restarted; try again",
        Refusal::WrongSeal => {
            "it did not accept this key: give --key the file that it was started with (`standin \
             --key`) or that is in its settings. If that is the one, other clients interfered; try \
             again"
        }
        Refusal::LockedOut(seconds) => {
            return format!(
                "it did not accept this key, and is locked for {seconds} s after too many wrong \
                 ones. It would still obey the right key: give --key the file that it was started \
                 with (`standin --key`) or that is in its settings"
            );
        }
        Refusal::FiringRunning => "a firing is running; wait for its end, or stop it",
        Refusal::BadSize(max) => {
            return format!(
                "a programme may have 1 to {max} bytes; split this schedule into two"
            );
        }
        Refusal::OtherFurnace => {
            "its furnace data differ from those of the rehearsal; rehearse with the profile that \
             is stored in the device, or store this one there"
        }
        Refusal::OutOfOrder => "a part of the programme arrived out of order; try again",
        Refusal::BadProgramme(_) => {
            "what arrived is not the programme that was announced; try again, and if that does not \
             help, install matching versions of tool and image"
        }
        Refusal::UnfitFurnace(_) => {
            "its furnace data fail their check, so it must not heat; store correct ones in the device"
        }
        Refusal::Forbidden { .. } => "its furnace must not run this programme",
        Refusal::FlashFailed => {
            "its flash failed, and the old programme is still active; try again, and if that does \
             not help, have the flash replaced"
        }
        Refusal::FiringInterrupted => {
            "a power cut interrupted its firing, which waits at the device; there, press start to go \
             on with it or stop to discard it, and upload afterwards"
        }
    };
    said.to_owned()
}
