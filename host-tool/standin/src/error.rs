//! Why a stand-in does not run.

use std::io;

use saggar_bench::SetupError;
use saggar_files::atomic_file::describe_io_error;
use saggar_files::{Diagnostic, sanitized};

/// Why a stand-in does not run.
#[derive(Debug, thiserror::Error)]
pub enum StandInError {
    /// A file of it is not as it must be.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// There can be no such furnace with this work in it.
    #[error("{0}")]
    InvalidFurnace(SetupError),
    /// The firmware does not come up, or does not answer.
    #[error("{}", bench_error_text(.0))]
    Bench(#[from] saggar_bench::BenchError),
    /// What was written to the flash cannot be kept.
    #[error("what was written to --memory is not on the disk: {}", describe_io_error(.0))]
    FlashNotSaved(io::Error),
    /// The line cannot be opened.
    #[error("{address} cannot be opened: {}", describe_io_error(cause))]
    Listen {
        /// What was to be opened.
        address: String,
        /// Why not.
        cause: io::Error,
    },
}

impl StandInError {
    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[Diagnostic] {
        match self {
            Self::Files(error) => error.diagnostics(),
            Self::InvalidFurnace(_)
            | Self::Bench(_)
            | Self::FlashNotSaved(_)
            | Self::Listen { .. } => &[],
        }
    }
}

impl From<Diagnostic> for StandInError {
    fn from(finding: Diagnostic) -> Self {
        Self::Files(finding.into())
    }
}

/// What the bench says, with reasons of the system in words that say what to do.
fn bench_error_text(error: &saggar_bench::BenchError) -> String {
    if let saggar_bench::BenchError::Window(why) = error {
        return format!("the memory shared with the emulator: {}", describe_io_error(why));
    }
    sanitized(&error.to_string(), 600)
}
