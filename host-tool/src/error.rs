//! Why a command did not do what it was asked to, and the exit code of each reason.

use std::io;
use std::path::PathBuf;

use saggar_sim::rig::RigError;

use crate::document::{Finding, shown};
use crate::feature::MissingFeature;
use crate::link::Failed;
use crate::report::Failure;
use crate::standin::Unable;
use crate::whole::Unwritten;

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
    /// Files that were read have something wrong with them.
    #[error("{}", findings_line(.0))]
    Input(Vec<Finding>),
    /// The file to write is there already.
    #[error("{} is there already; --force replaces it", shown_path(.0))]
    Exists(PathBuf),
    /// The file cannot be written.
    #[error(transparent)]
    NotWritten(Unwritten),
    /// The rehearsal could not begin.
    #[error("{} cannot be rehearsed: {why}", shown_path(schedule))]
    NotRehearsed {
        /// The schedule.
        schedule: PathBuf,
        /// What the rig says.
        why: RigError,
    },
    /// The report cannot be made or written.
    #[error("no report: {0}")]
    Report(#[from] Failure),
    /// This build lacks what was asked for.
    #[error(transparent)]
    MissingFeature(#[from] MissingFeature),
    /// A device does not answer, or does not do it.
    #[error("{0}")]
    Device(#[from] Failed),
    /// A device told more than any true one can have to tell.
    #[error(
        "the device has told more than the longest firing of its furnace and the time at rest come \
         to ({megabytes} MB): record on into another file"
    )]
    Full {
        /// What they come to.
        megabytes: u64,
    },
    /// A recording ended before its time.
    #[error("{why}; what is in {} is whole: {ticks} ticks{}", shown_path(path), up_to(*last))]
    Recording {
        /// Why.
        why: Box<Self>,
        /// The log.
        path: PathBuf,
        /// Ticks that are in it.
        ticks: u64,
        /// Number of the last one that was heard.
        last: Option<u32>,
    },
    /// A stand-in for a furnace does not run.
    #[error(transparent)]
    StandIn(#[from] Unable),
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
            Self::Recording { why, .. } => why.exit_code(),
            Self::Device(Failed::Refused(_)) | Self::Forbidden(_) => EXIT_REFUSED,
            Self::Device(Failed::NotKnown(..)) => EXIT_NOT_KNOWN,
            Self::Input(_)
            | Self::Exists(_)
            | Self::NotWritten(_)
            | Self::NotRehearsed { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::Device(_)
            | Self::Full { .. }
            | Self::StandIn(_)
            | Self::Output(_) => EXIT_BAD_INPUT,
        }
    }

    /// The findings on files, if that is what it is.
    pub fn findings(&self) -> &[Finding] {
        match self {
            Self::Input(findings) => findings,
            Self::Exists(_)
            | Self::NotWritten(_)
            | Self::NotRehearsed { .. }
            | Self::Report(_)
            | Self::MissingFeature(_)
            | Self::Device(_)
            | Self::Full { .. }
            | Self::Recording { .. }
            | Self::StandIn(_)
            | Self::Forbidden(_)
            | Self::Output(_) => &[],
        }
    }
}

impl From<Unwritten> for Error {
    fn from(unwritten: Unwritten) -> Self {
        if unwritten.exists {
            Self::Exists(unwritten.path)
        } else {
            Self::NotWritten(unwritten)
        }
    }
}

impl From<Finding> for Error {
    fn from(finding: Finding) -> Self {
        Self::Input(vec![finding])
    }
}

fn up_to(last: Option<u32>) -> String {
    last.map_or_else(String::new, |last| format!(", up to tick {last}"))
}

fn shown_path(path: &std::path::Path) -> String {
    shown(&path.display().to_string(), 200)
}

/// "3 findings in 2 files".
pub fn findings_line(findings: &[Finding]) -> String {
    let mut files: Vec<&str> = findings.iter().map(|finding| finding.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    let plural = |count: usize, word: &str| match count {
        1 => format!("1 {word}"),
        count => format!("{count} {word}s"),
    };
    format!("{} in {}", plural(findings.len(), "finding"), plural(files.len(), "file"))
}
