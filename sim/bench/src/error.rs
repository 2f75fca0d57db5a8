//! Errors of the firmware on a bench.

use std::io;
use std::path::PathBuf;

use crate::reference_core::MismatchError;

/// Why firmware does not boot or does not respond. The cure depends on the program that runs the bench,
/// so that program adds it to the message.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// The flash cannot be used.
    #[error("the flash contents cannot be used")]
    Flash,
    /// The flash holds no settings, so the firmware does not know which furnace it controls.
    #[error("the firmware does not boot: its flash holds no settings")]
    NoSettings,
    /// The settings in flash are of another version.
    #[error(
        "the firmware does not boot: its settings are of version {0}, and it needs version {ours}",
        ours = saggar_device::SETTINGS_VERSION
    )]
    OtherSettings(u8),
    /// The image does not exist.
    #[error("firmware image {} not found", .0.display())]
    NoImage(PathBuf),
    /// The emulator is not installed.
    #[error("qemu-system-arm is not installed")]
    NoEmulator,
    /// The image does not respond within the timeout, or the emulator has ended.
    #[error(
        "the emulated board does not answer: check that the image is one of firmware/boards/emulated \
         and that no other process uses its port"
    )]
    Silent,
    /// The two cores gave different outputs.
    #[error("{0}; this is a bug: keep the image and report it")]
    CoresDiffer(#[from] MismatchError),
    /// The memory shared with the emulator cannot be read or written.
    #[error("cannot access the memory shared with the emulator: {0}")]
    Window(#[from] io::Error),
}
