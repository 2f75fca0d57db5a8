//! `show`: the steps of a compiled programme.

use std::path::Path;

use saggar_core::programme::{Action, IMAGE_BYTES_MAX, Image, ImageError, Step};
use serde::Serialize;

use crate::Error;
use saggar_files::Finding;
use saggar_files::plain_file::{self, ReadFault};
use saggar_schedule::schedule::Summary;

/// A programme read back.
#[derive(Debug, Serialize)]
pub struct ShownProgramme {
    /// In a few figures.
    #[serde(flatten)]
    pub summary: Summary,
    /// Its steps.
    pub list: Vec<ShownStep>,
}

/// One step, in the units of the wire made readable.
#[derive(Debug, Serialize)]
pub struct ShownStep {
    /// What the chamber does.
    #[serde(flatten)]
    pub action: ShownAction,
    /// Vacuum meanwhile.
    pub vacuum: Option<ShownVacuum>,
}

/// What the chamber does in a step.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
#[allow(missing_docs, reason = "the keys of a schedule, with the same meaning")]
pub enum ShownAction {
    Ramp { to_celsius: f64, kelvin_per_minute: f64 },
    Soak { minutes: f64, band_kelvin: f64, patience_minutes: f64 },
    Cool { below_celsius: f64 },
    Opening { open: bool, minutes: f64 },
    Hold { minutes: f64, go_on: bool },
}

/// Vacuum during a step.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys of a schedule, with the same meaning")]
pub struct ShownVacuum {
    pub from_celsius: f64,
    pub to_hectopascal: f64,
    pub within_minutes: f64,
}

/// Reads a programme back. It knows of itself only what it is: whether it is the one that was
/// compiled, `digest` tells, the first hexadecimal digits of its SHA-256.
///
/// # Errors
/// Why the file is no programme, or not the one of this digest.
pub fn show(path: &Path, digest: Option<&str>) -> Result<ShownProgramme, Error> {
    let image = image_of(path)?;
    let summary = Summary::of(&image);
    if let Some(digest) = digest.filter(|digest| !summary.digest.starts_with(*digest)) {
        let name = path.display().to_string();
        let found = summary.digest.get(..digest.len()).unwrap_or(&summary.digest);
        let help = "it is another programme, or was altered: compile it anew from its schedule";
        let message = format!("its digest is {found}, not {digest}");
        return Err(Finding::on_file(&name, message, help).into());
    }
    Ok(ShownProgramme { summary, list: image.steps().map(shown).collect() })
}

/// Reads the file of a programme.
///
/// # Errors
/// Why it is none.
pub(super) fn image_of(path: &Path) -> Result<Image, Error> {
    let name = path.display().to_string();
    let no_programme = |error: ImageError| {
        let help = "give the file that `saggar compile` wrote";
        Finding::on_file(&name, format!("this is no programme: {}", why(error)), help)
    };
    let bytes = plain_file::bytes(path, IMAGE_BYTES_MAX).map_err(|fault| match fault {
        ReadFault::TooLarge(_) => no_programme(ImageError::TooLong),
        ReadFault::Missing | ReadFault::Folder | ReadFault::Special | ReadFault::Refused(_) => {
            fault.finding(&name)
        }
    })?;
    let image = Image::from_bytes(&bytes).map_err(no_programme)?;
    if image.name().chars().any(saggar_files::forbidden) {
        let help = "compile it anew from its schedule";
        return Err(
            Finding::on_file(&name, "its name has hidden characters in it", help).into()
        );
    }
    Ok(image)
}

fn why(error: ImageError) -> String {
    match error {
        ImageError::TooLong => "it is too long".to_owned(),
        ImageError::BadHead => "its beginning cannot be read".to_owned(),
        ImageError::OtherFormat(version) => {
            format!("it is of version {version}, which this tool does not know")
        }
        ImageError::TooManySteps(count) => format!("it has {count} steps"),
        ImageError::BadStep(index) => {
            format!("step {} cannot be read", u16::from(index).saturating_add(1))
        }
        ImageError::TrailingBytes => "something follows its last step".to_owned(),
        ImageError::OtherDigest => "its digest is another".to_owned(),
    }
}

fn shown(step: Step) -> ShownStep {
    let thousandth = |value: i32| f64::from(value) / 1e3;
    let minutes = |millis: u32| f64::from(millis) / 60e3;
    let action = match step.action {
        Action::Ramp { to_mc, rate_mk_per_min } => ShownAction::Ramp {
            to_celsius: thousandth(to_mc),
            kelvin_per_minute: f64::from(rate_mk_per_min) / 1e3,
        },
        Action::Soak { for_ms, band_mk, patience_ms } => ShownAction::Soak {
            minutes: minutes(for_ms),
            band_kelvin: f64::from(band_mk) / 1e3,
            patience_minutes: minutes(patience_ms),
        },
        Action::Cool { below_mc } => ShownAction::Cool { below_celsius: thousandth(below_mc) },
        Action::Move { open, stay_ms } => {
            ShownAction::Opening { open, minutes: minutes(stay_ms) }
        }
        Action::Ask { timeout_ms, go_on } => {
            ShownAction::Hold { minutes: minutes(timeout_ms), go_on }
        }
    };
    let vacuum = step.vacuum.map(|stage| ShownVacuum {
        from_celsius: thousandth(stage.from_mc),
        to_hectopascal: f64::from(stage.to_pa) / 1e2,
        within_minutes: minutes(stage.within_ms),
    });
    ShownStep { action, vacuum }
}
