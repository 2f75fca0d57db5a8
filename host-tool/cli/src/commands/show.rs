//! `show`: the steps of a compiled programme.

use std::path::Path;

use saggar_core::programme::{
    FORMAT_VERSION, IMAGE_BYTES_MAX, ImageError, ProgrammeImage, Step,
};
use serde::Serialize;

use crate::error::CliError;
use saggar_files::Diagnostic;
use saggar_files::plain_file::{self, ReadError};
use saggar_schedule::schedule::{Evacuation, ProgrammeSummary, StageKind};

/// The contents of a programme.
#[derive(Debug, Serialize)]
pub struct ProgrammeListing {
    /// In a few figures.
    #[serde(flatten)]
    pub summary: ProgrammeSummary,
    /// Its steps.
    pub list: Vec<StepListing>,
}

/// One step, in the units of the wire made readable.
#[derive(Debug, Serialize)]
pub struct StepListing {
    /// What the chamber does.
    #[serde(flatten)]
    pub action: StageKind,
    /// Vacuum meanwhile.
    pub vacuum: Option<Evacuation>,
}

/// Reads a programme back. It knows of itself only what it is: whether it is the one that was
/// compiled, `digest` tells, the first hexadecimal digits of its SHA-256.
///
/// # Errors
/// Why the file is no programme, or not the one of this digest.
pub fn show(path: &Path, digest: Option<&str>) -> Result<ProgrammeListing, CliError> {
    let image = image_of(path)?;
    let summary = ProgrammeSummary::of(&image);
    if let Some(digest) = digest.filter(|digest| !summary.digest.starts_with(*digest)) {
        let name = path.display().to_string();
        let found = summary.digest.get(..digest.len()).unwrap_or(&summary.digest);
        let help =
            "it is another programme, or was altered: compile it again from its schedule";
        let message = format!("its digest is {found}, not {digest}");
        return Err(Diagnostic::for_file(&name, message, help).into());
    }
    Ok(ProgrammeListing { summary, list: image.steps().map(step_listing).collect() })
}

/// Reads the file of a programme.
///
/// # Errors
/// Why it is none.
pub(super) fn image_of(path: &Path) -> Result<ProgrammeImage, CliError> {
    let name = path.display().to_string();
    let no_programme = |error: ImageError| {
        if path.extension().is_some_and(|ending| ending == "toml") {
            let help = "compile a schedule first: saggar compile FILE.toml -o FILE.programme";
            return Diagnostic::for_file(&name, "this is a text file, not a programme", help);
        }
        let help = "give the file that `saggar compile` wrote";
        Diagnostic::for_file(&name, format!("this is no programme: {}", why(error)), help)
    };
    let bytes = plain_file::read_bytes(path, IMAGE_BYTES_MAX).map_err(|fault| match fault {
        ReadError::TooLarge(_) => no_programme(ImageError::TooLong),
        ReadError::Missing | ReadError::Folder | ReadError::Special | ReadError::Refused(_) => {
            fault.diagnostic(&name)
        }
    })?;
    let image = ProgrammeImage::from_bytes(&bytes).map_err(no_programme)?;
    if image.name().chars().any(saggar_files::is_forbidden_in_name) {
        let help = "compile it again from its schedule";
        return Err(
            Diagnostic::for_file(&name, "its name has hidden characters in it", help).into()
        );
    }
    Ok(image)
}

fn why(error: ImageError) -> String {
    match error {
        ImageError::TooLong => "it is too long".to_owned(),
        ImageError::BadHeader => "its beginning cannot be read".to_owned(),
        ImageError::UnsupportedVersion(version) => {
            format!(
                "it is of version {version}, and this tool knows version {FORMAT_VERSION}: compile it again from \
                 its schedule"
            )
        }
        ImageError::TooManySteps(count) => format!("it has {count} steps"),
        ImageError::BadStep(index) => {
            format!("step {} cannot be read", u16::from(index).saturating_add(1))
        }
        ImageError::TrailingBytes => "something follows its last step".to_owned(),
        ImageError::DigestMismatch => "its digest is another".to_owned(),
    }
}

fn step_listing(step: Step) -> StepListing {
    StepListing { action: (&step.action).into(), vacuum: step.vacuum.map(Evacuation::from) }
}
