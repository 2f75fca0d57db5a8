//! Why an exchange with a device came to nothing, in words that say what to do.

use std::fmt;

use saggar_device::wire::{PROTOCOL, Refusal};

/// Why an exchange came to nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkError {
    /// Nobody answered, however often asked; so many frames arrived broken meanwhile.
    NoAnswer {
        /// Frames that were noise.
        broken_frames: u32,
    },
    /// The port itself failed.
    Port(String),
    /// The other side speaks another version of the protocol.
    ProtocolVersion(u8),
    /// The device does not do it.
    Refused(Refusal),
    /// What it says makes no sense; a device of ours never says it.
    InvalidReply(&'static str),
    /// The programme did not become the active one: the device, asked again, has the one from
    /// before. Why it was asked again.
    NotActivated(Box<Self>),
    /// The last order of this task went out and was not answered, and the device could not be
    /// asked again: nobody knows whether it was done. Why it was to be asked again.
    OutcomeUnknown(UnansweredOrder, Box<Self>),
}

/// What an order that nobody answered would have done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnansweredOrder {
    /// Make a programme the active one.
    Upload,
    /// End the firing.
    Stop,
}

impl LinkError {
    /// With the number of frames that were noise, if it is about silence.
    pub(super) fn with_broken_frames(self, noise: u32) -> Self {
        if matches!(self, Self::NoAnswer { .. }) {
            Self::NoAnswer { broken_frames: noise }
        } else {
            self
        }
    }

    /// The line is to blame: over another connection it may go well.
    pub const fn is_connection_failure(&self) -> bool {
        matches!(self, Self::NoAnswer { .. } | Self::Port(_))
    }
}

impl std::error::Error for LinkError {}

impl fmt::Display for LinkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoAnswer { broken_frames: 0 } => f.write_str(
                "nobody answers: is the device on, is this its port, and is --baud its rate?",
            ),
            Self::NoAnswer { broken_frames: noise } => write!(
                f,
                "no whole answer arrives, only {noise} broken frames: is --baud the device's rate, \
                 and does nobody else use the port?"
            ),
            Self::Port(why) => f.write_str(why),
            Self::ProtocolVersion(version) => write!(
                f,
                "the device speaks version {version} of the protocol and this tool version \
                 {PROTOCOL}: bring both to the same state"
            ),
            Self::Refused(refusal) => {
                write!(f, "the device refuses: {}", refusal_text(refusal))
            }
            Self::InvalidReply(what) => write!(
                f,
                "the device says what makes no sense ({what}): is this its port, and is its image \
                 whole?"
            ),
            Self::NotActivated(why) => write!(
                f,
                "the programme did not become the active one: asked again, the device has what it \
                 had before; upload once more ({why})"
            ),
            Self::OutcomeUnknown(UnansweredOrder::Upload, why) => write!(
                f,
                "it is not known which programme is the active one: the last order went out and \
                 was not answered, and the device could not be asked again; ask with `saggar \
                 device info` before you start anything ({why})"
            ),
            Self::OutcomeUnknown(UnansweredOrder::Stop, why) => write!(
                f,
                "it is not known whether the firing was ended: the order went out and was not \
                 answered; press stop at the furnace ({why})"
            ),
        }
    }
}

/// What a refusal means and what to do, without the findings on a programme: those need its
/// furnace and are told by the command.
fn refusal_text(refusal: &Refusal) -> String {
    let said = match refusal {
        Refusal::OtherProtocol(version) => {
            return format!(
                "it speaks version {version} of the protocol, this tool version {PROTOCOL}; bring \
                 both to the same state"
            );
        }
        Refusal::Unreadable => {
            "it does not know this message; bring tool and image to one state"
        }
        Refusal::NoKey => {
            "it has no key; store one at the device (see `saggar device settings --help`)"
        }
        Refusal::NoBootCounter => {
            "its flash does not count any more, so that it cannot tell one session from another; \
             have the flash replaced"
        }
        Refusal::NoSession => "it knows no session; it came up anew meanwhile: try again",
        Refusal::WrongSeal => {
            "the seal is wrong, in several tries: either the key is not the one that is stored in \
             it, or somebody else opened a session each time; compare the keys, and try again"
        }
        Refusal::LockedOut(seconds) => {
            return format!(
                "frames with a wrong seal came over this line, from whom is not known; the right \
                 key is obeyed all the same, but several tries with this one were not: compare \
                 the keys, and try again, at the latest in {seconds} s"
            );
        }
        Refusal::FiringRunning => "a firing is running; wait for its end, or stop it",
        Refusal::BadSize(most) => {
            return format!(
                "a programme has 1 to {most} bytes; make two schedules of this one"
            );
        }
        Refusal::OtherFurnace => {
            "it stands at a furnace of other data than the rehearsal was for; rehearse on the \
             profile that is stored in it, or store this one at the device"
        }
        Refusal::OutOfOrder => "a piece of the programme is out of place; try again",
        Refusal::BadProgramme(_) => {
            "what arrived is not the programme that was announced; try again, and if it stays, \
             bring tool and image to one state"
        }
        Refusal::UnfitFurnace(_) => {
            "its own furnace data are unfit to be trusted with heat; store them anew at the device"
        }
        Refusal::Forbidden { .. } => "its furnace must not run this programme",
        Refusal::FlashFailed => {
            "its flash does not do what it should, and the old programme is still there; try \
             again, and have the flash replaced if it stays"
        }
    };
    said.to_owned()
}
