//! Why a command did not do what it was asked to, and the exit code of each reason.

use std::io;
use std::path::PathBuf;

use saggar_bench::SetupError;

use saggar_client::link::LinkError;
use saggar_files::feature::MissingFeatureError;
use saggar_files::{Diagnostic, WriteError, display_path};
use saggar_report::ReportError;

/// What the process tells the shell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// It did what it was asked to and found nothing wrong.
    Pass = 0,
    /// A firing that was rehearsed failed, a device does not do what it is ordered to, or a replay
    /// does something else than was recorded.
    Fail = 1,
    /// It was asked for something that it cannot do.
    BadInput = 2,
    /// Nobody knows whether an order was done, or whether a replay is equal.
    NotKnown = 3,
}

impl Exit {
    /// The code.
    pub const fn code(self) -> u8 {
        self as u8
    }
}

/// Why a command did not do what it was asked to.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// Files could not be read or written.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// The rehearsal could not begin.
    #[error("{} cannot be rehearsed: {why}", display_path(schedule))]
    Rehearsal {
        /// The schedule.
        schedule: PathBuf,
        /// What the bench says.
        why: SetupError,
    },
    /// The report cannot be made or written.
    #[error("no report: {0}")]
    Report(#[from] ReportError),
    /// This build lacks what was asked for.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeatureError),
    /// A device does not answer or does not do it, or what it says cannot be kept.
    #[error(transparent)]
    Client(saggar_client::ClientError),
    /// A stand-in for a furnace does not run.
    #[error(transparent)]
    StandIn(#[from] saggar_standin::StandInError),
    /// A device must not run a programme.
    #[error("the device refuses: {0}")]
    RefusedByDevice(String),
    /// The result cannot be shown.
    #[error("the output cannot be written: {0}")]
    Output(#[from] io::Error),
}

impl CliError {
    /// What the process tells the shell.
    pub fn exit(&self) -> Exit {
        match self {
            Self::RefusedByDevice(_) => Exit::Fail,
            Self::Client(error) => client_exit(error),
            Self::Files(_)
            | Self::Rehearsal { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::StandIn(_)
            | Self::Output(_) => Exit::BadInput,
        }
    }

    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[Diagnostic] {
        match self {
            Self::Files(error) => error.diagnostics(),
            Self::StandIn(error) => error.findings(),
            Self::Rehearsal { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::Client(_)
            | Self::RefusedByDevice(_)
            | Self::Output(_) => &[],
        }
    }
}

/// Converts errors and diagnostics of other crates, each by way of the variant that holds them.
macro_rules! from_errors {
    ($($from:ty => $variant:ident),*) => {
        $(impl From<$from> for CliError {
            fn from(error: $from) -> Self {
                Self::$variant(error.into())
            }
        })*
    };
}

from_errors!(WriteError => Files, Diagnostic => Files, LinkError => Client, saggar_bench::BenchError => StandIn);

impl From<saggar_client::ClientError> for CliError {
    fn from(error: saggar_client::ClientError) -> Self {
        match error {
            saggar_client::ClientError::Files(error) => Self::Files(error),
            saggar_client::ClientError::Output(why) => Self::Output(why),
            other @ (saggar_client::ClientError::Device(_)
            | saggar_client::ClientError::RecordingTooLarge { .. }
            | saggar_client::ClientError::RecordingInterrupted { .. }) => Self::Client(other),
        }
    }
}

/// What the shell is told of what went wrong with a device: that of its reason, if a recording ended by it.
fn client_exit(error: &saggar_client::ClientError) -> Exit {
    match error {
        saggar_client::ClientError::RecordingInterrupted { cause: why, .. } => client_exit(why),
        saggar_client::ClientError::Device(LinkError::Refused(_)) => Exit::Fail,
        saggar_client::ClientError::Device(LinkError::OutcomeUnknown(..)) => Exit::NotKnown,
        saggar_client::ClientError::Device(_)
        | saggar_client::ClientError::Files(_)
        | saggar_client::ClientError::RecordingTooLarge { .. }
        | saggar_client::ClientError::Output(_) => Exit::BadInput,
    }
}
