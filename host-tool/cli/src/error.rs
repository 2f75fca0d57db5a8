//! Why a command did not do what it was asked to, and the exit code of each reason.

use std::io;
use std::path::PathBuf;

use saggar_bench::Unfit;

use saggar_client::link::Failed;
use saggar_files::feature::MissingFeature;
use saggar_files::{Finding, Unwritten, shown_path};
use saggar_report::Failure;

/// Exit code of a command that did what it was asked to and found nothing wrong.
pub const EXIT_PASS: u8 = 0;

/// Exit code of a firing that was rehearsed and failed.
pub const EXIT_VERDICT_FAILED: u8 = 1;

/// Exit code of a device that does not do what it is ordered to.
pub const EXIT_REFUSED: u8 = 1;

/// Exit code of a replay that does something else than was recorded.
pub const EXIT_DIFFERS: u8 = 1;

/// Exit code of what nobody knows: whether an order was done, or whether a replay is equal.
pub const EXIT_NOT_KNOWN: u8 = 3;

/// Exit code of a command that was asked for something it cannot do.
pub const EXIT_BAD_INPUT: u8 = 2;

/// Why a command did not do what it was asked to.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Files could not be read or written.
    #[error(transparent)]
    Files(#[from] saggar_files::Error),
    /// The rehearsal could not begin.
    #[error("{} cannot be rehearsed: {why}", shown_path(schedule))]
    NotRehearsed {
        /// The schedule.
        schedule: PathBuf,
        /// What the bench says.
        why: Unfit,
    },
    /// The report cannot be made or written.
    #[error("no report: {0}")]
    Report(#[from] Failure),
    /// This build lacks what was asked for.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeature),
    /// A device does not answer or does not do it, or what it says cannot be kept.
    #[error(transparent)]
    Client(saggar_client::Error),
    /// A stand-in for a furnace does not run.
    #[error(transparent)]
    StandIn(#[from] saggar_standin::Error),
    /// A device must not run a programme.
    #[error("the device refuses: {0}")]
    Forbidden(String),
    /// The result cannot be shown.
    #[error("the output cannot be written: {0}")]
    Output(#[from] io::Error),
}

impl Error {
    /// What the process tells the shell.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Forbidden(_) => EXIT_REFUSED,
            Self::Client(error) => client_code(error),
            Self::Files(_)
            | Self::NotRehearsed { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::StandIn(_)
            | Self::Output(_) => EXIT_BAD_INPUT,
        }
    }

    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[Finding] {
        match self {
            Self::Files(error) => error.findings(),
            Self::StandIn(error) => error.findings(),
            Self::NotRehearsed { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::Client(_)
            | Self::Forbidden(_)
            | Self::Output(_) => &[],
        }
    }
}

impl From<Unwritten> for Error {
    fn from(unwritten: Unwritten) -> Self {
        Self::Files(unwritten.into())
    }
}

impl From<Finding> for Error {
    fn from(finding: Finding) -> Self {
        Self::Files(finding.into())
    }
}

impl From<Failed> for Error {
    fn from(failed: Failed) -> Self {
        Self::Client(failed.into())
    }
}

impl From<saggar_client::Error> for Error {
    fn from(error: saggar_client::Error) -> Self {
        match error {
            saggar_client::Error::Files(error) => Self::Files(error),
            saggar_client::Error::Output(why) => Self::Output(why),
            other @ (saggar_client::Error::Device(_)
            | saggar_client::Error::Full { .. }
            | saggar_client::Error::Recording { .. }) => Self::Client(other),
        }
    }
}

/// Exit code of what went wrong with a device: that of its reason, if a recording ended by it.
fn client_code(error: &saggar_client::Error) -> u8 {
    match error {
        saggar_client::Error::Recording { why, .. } => client_code(why),
        saggar_client::Error::Device(Failed::Refused(_)) => EXIT_REFUSED,
        saggar_client::Error::Device(Failed::NotKnown(..)) => EXIT_NOT_KNOWN,
        saggar_client::Error::Device(_)
        | saggar_client::Error::Files(_)
        | saggar_client::Error::Full { .. }
        | saggar_client::Error::Output(_) => EXIT_BAD_INPUT,
    }
}
