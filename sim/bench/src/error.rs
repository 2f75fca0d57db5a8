//! Why firmware on a bench does not run.

use std::io;
use std::path::PathBuf;

use crate::reference_core::MismatchError;

/// Why firmware does not come up, or does not answer.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The flash cannot be used.
    #[error("the stand-in's memory cannot be used: name a new file for --memory, or none")]
    Flash,
    /// There is nothing in flash that says who it is.
    #[error(
        "the firmware does not come up: there are no settings in its memory; name a new file for \
         --memory, or none"
    )]
    NoSettings,
    /// There is no such image.
    #[error("{} is no image: build it with `.ci/boards`, or name another with --image", .0.display())]
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
    #[error("{0}; this must not happen: keep the image and report it")]
    CoresDiffer(#[from] MismatchError),
    /// The window to the emulator cannot be read or written.
    #[error("the memory shared with the emulator: {0}")]
    Window(#[from] io::Error),
}
