//! The errors of a stand-in.

use std::io;

use saggar_bench::SetupError;
use saggar_files::atomic_file::describe_io_error;
use saggar_files::{Diagnostic, sanitized};
use saggar_plant::faults::FaultKind;

/// Why a stand-in cannot start, or cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum StandInError {
    /// One of its files is invalid.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// This furnace cannot be simulated with this work in it.
    #[error("{0}")]
    InvalidFurnace(SetupError),
    /// A planned fault cannot strike, for this reason.
    #[error("{} cannot strike here: {}", .0.name(), .1)]
    OutOfReach(FaultKind, &'static str),
    /// The firmware does not start, or does not answer.
    #[error("{}", bench_error_text(.0))]
    Bench(#[from] saggar_bench::BenchError),
    /// The flash cannot be saved to its file.
    #[error("the --memory file could not be saved to the disk: {}", describe_io_error(.0))]
    FlashNotSaved(io::Error),
    /// It cannot listen.
    #[error("{address} cannot be opened: {}", listen_error_text(cause))]
    Listen {
        /// The address.
        address: String,
        /// Why.
        cause: io::Error,
    },
}

impl StandInError {
    /// The diagnostics, if this is an error in files.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        match self {
            Self::Files(error) => error.diagnostics(),
            Self::InvalidFurnace(_)
            | Self::OutOfReach(..)
            | Self::Bench(_)
            | Self::FlashNotSaved(_)
            | Self::Listen { .. } => &[],
        }
    }
}

impl From<Diagnostic> for StandInError {
    fn from(diagnostic: Diagnostic) -> Self {
        Self::Files(diagnostic.into())
    }
}

/// Why an address cannot be listened at, and what to do.
fn listen_error_text(cause: &io::Error) -> String {
    if cause.kind() == io::ErrorKind::AddrInUse {
        return "another program listens there, perhaps another stand-in: end it, or choose another \
                port, such as --listen tcp:127.0.0.1:7431 (port 0 takes a free one)"
            .to_owned();
    }
    describe_io_error(cause)
}

/// An error of the bench, with a system error in the words that the other messages use.
fn bench_error_text(error: &saggar_bench::BenchError) -> String {
    if let saggar_bench::BenchError::Window(why) = error {
        return format!(
            "cannot access the memory shared with the emulator: {}",
            describe_io_error(why)
        );
    }
    sanitized(&error.to_string(), 600)
}
