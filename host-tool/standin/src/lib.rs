//! A furnace that is not there: the firmware's own logic, its drivers and a simulated chamber, as
//! a process that listens as a board does.
//!
//! A [`bench::Bench`] stands where the wires are: instruments on one side, pins on the other. On
//! it works a [`brain::Brain`]: [`local`], the firmware in this process, or, where the system can
//! map files ([`emulator`]), the image for a Cortex-M4F in an emulator, in lockstep and with the
//! desk's own core beside it, which must answer the same, bit for bit.

pub mod bench;
pub mod brain;
mod desks;
pub mod disk;
#[cfg(unix)]
pub mod emulator;
pub mod fire;
mod keys;
pub mod line;
pub mod local;
pub mod memory;
pub mod pace;
pub mod panel;
pub mod presses;
#[cfg(unix)]
mod shadow;
#[cfg(unix)]
mod window;

use std::io;
use std::path::PathBuf;

use saggar_bench::rig::RigError;
use saggar_core::io::Outputs;

use saggar_files::shown;

/// Why a stand-in does not run.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file of it is not as it must be.
    #[error(transparent)]
    Files(#[from] saggar_files::Error),
    /// There can be no such furnace with this work in it.
    #[error("{} cannot be rehearsed: {why}", saggar_files::shown_path(schedule))]
    NoFurnace {
        /// The schedule.
        schedule: PathBuf,
        /// What the simulation says.
        why: RigError,
    },
    /// The flash cannot be used.
    #[error("the stand-in's memory cannot be used: name a new file for --memory, or none")]
    Flash,
    /// What was written to the flash cannot be kept.
    #[error("what was written to --memory is not on the disk: {}", saggar_files::whole::words(.0))]
    Kept(io::Error),
    /// There is nothing in flash that says who it is.
    #[error(
        "the firmware does not come up: there are no settings in its memory; name a new file for \
         --memory, or none"
    )]
    NoSettings,
    /// There is no such image.
    #[error(
        "{} is no image: build it with `.ci/boards`, or name another with --image",
        shown(&.0.display().to_string(), 200)
    )]
    NoImage(PathBuf),
    /// The emulator is not installed.
    #[error("there is no qemu-system-arm here: install it, or leave out --image")]
    NoEmulator,
    /// The image does nothing.
    #[error(
        "the emulated board does not answer: is it an image of firmware/boards/emulated, and no \
         other process on its port?"
    )]
    Silent,
    /// The two cores do not agree.
    #[error(
        "tick {tick} at {at_ms} ms: the board answered {there:?}, and the core here {here:?}; this \
         must not happen: keep the image and report it"
    )]
    Differs {
        /// Number of the tick.
        tick: u32,
        /// Its time (ms).
        at_ms: u64,
        /// What the desk's core answers.
        here: Outputs,
        /// What the board's core answered.
        there: Outputs,
    },
    /// The window to the emulator cannot be read or written.
    #[error("the memory shared with the emulator: {}", saggar_files::whole::words(.0))]
    Window(io::Error),
    /// The line cannot be opened.
    #[error("{place} cannot be opened: {}", saggar_files::whole::words(why))]
    Line {
        /// What was to be opened.
        place: String,
        /// Why not.
        why: io::Error,
    },
}

impl From<saggar_files::Finding> for Error {
    fn from(finding: saggar_files::Finding) -> Self {
        Self::Files(finding.into())
    }
}

impl Error {
    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[saggar_files::Finding] {
        match self {
            Self::Files(error) => error.findings(),
            Self::NoFurnace { .. }
            | Self::Flash
            | Self::Kept(_)
            | Self::NoSettings
            | Self::NoImage(_)
            | Self::NoEmulator
            | Self::Silent
            | Self::Differs { .. }
            | Self::Window(_)
            | Self::Line { .. } => &[],
        }
    }
}
