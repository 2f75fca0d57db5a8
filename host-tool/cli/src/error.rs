//! Errors of the commands, and their exit codes.

use std::io;
use std::path::PathBuf;

use saggar_bench::SetupError;

use saggar_client::link::LinkError;
use saggar_files::feature::MissingFeatureError;
use saggar_files::{Diagnostic, WriteError, display_path};
use saggar_report::ReportError;
use saggar_verdict::VerdictResult;

/// Exit code of the process.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Success, and nothing wrong was found.
    Pass = 0,
    /// The verdict of a rehearsal is FAIL, a device refuses an order, or a replay differs from the
    /// recording.
    Fail = 1,
    /// A file or the command line is invalid, or something cannot be written.
    BadInput = 2,
    /// The verdict of a rehearsal is NOT KNOWN, or it is not known whether an order was carried out
    /// or whether a replay is equal.
    NotKnown = 3,
}

impl Exit {
    /// The number for the shell.
    pub const fn code(self) -> u8 {
        self as u8
    }
}

impl From<VerdictResult> for Exit {
    fn from(result: VerdictResult) -> Self {
        match result {
            VerdictResult::Pass => Self::Pass,
            VerdictResult::Fail => Self::Fail,
            VerdictResult::NotKnown => Self::NotKnown,
        }
    }
}

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// Files could not be read or written.
    #[error(transparent)]
    Files(#[from] saggar_files::FilesError),
    /// The rehearsal cannot be set up.
    #[error("{} cannot be rehearsed: {why}", display_path(schedule))]
    Rehearsal {
        /// The schedule.
        schedule: PathBuf,
        /// The reason given by the bench.
        why: SetupError,
    },
    /// The report cannot be created or written.
    #[error("no report: {0}")]
    Report(#[from] ReportError),
    /// The feature was left out of this build.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeatureError),
    /// A device does not answer or refuses, or the recording cannot be written.
    #[error(transparent)]
    Client(saggar_client::ClientError),
    /// A stand-in cannot run.
    #[error("{}{}", .0, option_advice(.0))]
    StandIn(#[from] saggar_standin::StandInError),
    /// A campaign cannot run.
    #[error(transparent)]
    Campaign(#[from] saggar_studies::campaign::CampaignError),
    /// The device refuses a programme.
    #[error("the device refuses: {0}")]
    RefusedByDevice(String),
    /// Standard output cannot be written.
    #[error("the output cannot be written: {0}")]
    Output(#[from] io::Error),
}

impl CliError {
    /// The exit code for this error.
    pub fn exit(&self) -> Exit {
        match self {
            Self::RefusedByDevice(_) => Exit::Fail,
            Self::Client(error) => client_exit(error),
            Self::Files(_)
            | Self::Rehearsal { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::StandIn(_)
            | Self::Campaign(_)
            | Self::Output(_) => Exit::BadInput,
        }
    }

    /// The diagnostics, if the error is about files that were read.
    pub fn diagnostics(&self) -> &[Diagnostic] {
        match self {
            Self::Files(error) => error.diagnostics(),
            Self::StandIn(error) => error.diagnostics(),
            Self::Rehearsal { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::Client(_)
            | Self::Campaign(_)
            | Self::RefusedByDevice(_)
            | Self::Output(_) => &[],
        }
    }
}

/// What to change on the command line when the firmware of a stand-in does not run.
const fn option_advice(error: &saggar_standin::StandInError) -> &'static str {
    use saggar_bench::BenchError;
    let saggar_standin::StandInError::Bench(error) = error else { return "" };
    match error {
        BenchError::Flash | BenchError::NoSettings | BenchError::OtherSettings(_) => {
            "; name a new file for --memory, or leave the option out"
        }
        BenchError::NoImage(_) => "; build it with `.ci/boards`, or name another with --image",
        BenchError::NoEmulator => "; install it, or leave out --image",
        BenchError::Silent | BenchError::CoresDiffer(_) | BenchError::Window(_) => "",
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

/// The exit code for an error of the client; for an interrupted recording that of its cause.
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
