//! `device upload`: a programme whose rehearsal passed, or was let go on for a reason, goes to the furnace.

use std::path::Path;

use saggar_core::programme::{ProgrammeImage, Violation as Forbids};
use saggar_device::wire::Refusal;
use serde::{Serialize, Serializer};

use crate::commands::conditions::RehearsalOptions;
use crate::commands::show;
use crate::error::CliError;
use saggar_client::key;
use saggar_client::link::port::PortConfig;
use saggar_client::link::{
    Client, LinkError, OnRetry, ReadBack, UploadOutcome, printable_name,
};
use saggar_files::{Diagnostic, display_path};
use saggar_schedule::clearance::{self, Clearance};
use saggar_schedule::firing_plan::FiringPlan;
use saggar_schedule::schedule::{ProgrammeSummary, StageKind, fault_words};

/// The result of an upload.
#[derive(Clone, Debug, Serialize)]
pub struct UploadReport {
    /// The uploaded file.
    pub file: String,
    /// The device's name.
    pub device: String,
    /// The programme, with the digest of the bytes that were sent.
    pub programme: ProgrammeSummary,
    /// Digest of the active programme, as the device says.
    pub device_digest: String,
    /// The device's bytes were read back and are those that were sent.
    pub read_back: bool,
    /// The code to compare with the display; `None` if the board has no random numbers, or if the
    /// connection failed. The first 32 digits of the digest serve as well.
    #[serde(serialize_with = "eight_digits")]
    pub code: Option<u32>,
    /// Why a person let it go on although its verdict is not known, as the clearance records it.
    pub reason: Option<String>,
    /// A problem on the way, although the programme is active.
    pub remark: Option<String>,
}

/// Uploads a schedule or a programme, reads it back and compares. The file is read only once, so that
/// the bytes that were cleared are those that are sent. The clearance is that of the schedule's
/// rehearsal unless another one is named. `on_retry` is called before each retry.
///
/// # Errors
/// The file, its clearance or the key is invalid, the connection fails, the device refuses, or it is
/// unknown which programme is active.
pub fn upload(
    at: &PortConfig,
    file: &Path,
    furnace: Option<&Path>,
    key: &Path,
    clearance: Option<&Path>,
    on_retry: OnRetry,
) -> Result<UploadReport, CliError> {
    let key = key::read(key)?;
    let (image, plan) = load_image(file, furnace)?;
    let summary = ProgrammeSummary::of(&image);
    let path = match clearance {
        Some(path) => path.to_path_buf(),
        None => RehearsalOptions::default_conditions(file, furnace)
            .default_folder()?
            .join(clearance::FILE_NAME),
    };
    let clearance = Clearance::read(&path)?;
    clearance.check_covers(&path, &summary.digest, plan.as_ref())?;
    let mut client = Client::connect(at)?;
    let furnace_name = plan.as_ref().map(|plan| plan.profile.name.as_str());
    clearance.check_furnace(&path, &client.hello.furnace, furnace_name)?;
    client.on_retry = Some(on_retry);
    let furnace = client.hello.furnace;
    let arrived = client.upload(image.bytes(), furnace, &key).map_err(|failed| {
        if let LinkError::Refused(Refusal::Forbidden { first, count }) = failed {
            let furnace = plan.as_ref().map_or("the device", |plan| plan.profile.name.as_str());
            CliError::RefusedByDevice(violation_text(&image, &first, count, furnace))
        } else {
            failed.into()
        }
    })?;
    let back = client.read_back()?;
    if let ReadBack::Bytes(bytes) = &back
        && bytes != image.bytes()
    {
        return Err(
            LinkError::InvalidReply("it has another programme than the one sent").into()
        );
    }
    let code = client.agree_code(&image.digest(), &key);
    let remark = remark(&arrived, &back).or_else(|| no_code_remark(&code));
    Ok(UploadReport {
        file: display_path(file),
        device: printable_name(&client.hello.device),
        device_digest: summary.digest.clone(),
        programme: summary,
        read_back: matches!(back, ReadBack::Bytes(_)),
        code: code.unwrap_or(None),
        reason: clearance.reason,
        remark,
    })
}

/// A remark on an upload whose connection failed.
fn remark(arrived: &UploadOutcome, back: &ReadBack) -> Option<String> {
    match (arrived, back) {
        (UploadOutcome::Acknowledged, ReadBack::Bytes(_)) => None,
        (UploadOutcome::FoundActive(why), ReadBack::Bytes(_)) => Some(format!(
            "the connection failed before the device answered; after reconnecting, it has this \
             programme as the active one ({why})"
        )),
        (_, ReadBack::Unavailable(why)) => Some(format!(
            "the device says that this is its active programme, but it could not be read back: \
             compare the digits on the display ({why})"
        )),
    }
}

/// The code as a person compares it, whose leading zeros a number would lose.
fn eight_digits<S: Serializer>(code: &Option<u32>, to: S) -> Result<S::Ok, S::Error> {
    code.map(|code| format!("{code:08}")).serialize(to)
}

/// A remark if there is no code.
fn no_code_remark(code: &Result<Option<u32>, LinkError>) -> Option<String> {
    let why = code.as_ref().err()?;
    Some(format!("there is no code; compare the digits instead ({why})"))
}

/// The programme, and the plan that it was compiled from unless the file is a compiled one.
fn load_image(
    file: &Path,
    furnace: Option<&Path>,
) -> Result<(ProgrammeImage, Option<FiringPlan>), CliError> {
    if file.extension().is_some_and(|extension| extension == "programme") {
        if furnace.is_some() {
            let name = file.display().to_string();
            let help = "leave --furnace out: a programme is compiled for one already";
            return Err(Diagnostic::for_file(&name, "this is a programme", help).into());
        }
        return Ok((show::image_of(file)?, None));
    }
    let plan = FiringPlan::load(file, furnace).map_err(|error| {
        let is_toml = file.extension().is_some_and(|extension| extension == "toml");
        if is_toml || !file.is_file() { error } else { neither(file).into() }
    })?;
    Ok((plan.image.clone(), Some(plan)))
}

/// One diagnostic in place of one for each line that is not TOML.
fn neither(file: &Path) -> Diagnostic {
    let message = "this is neither a schedule nor a programme";
    let help =
        "give a schedule (.toml), or a programme that `saggar compile` wrote (.programme)";
    Diagnostic::for_file(file, message, help)
}

/// Why a device must not run a programme, in the words of the diagnostics on a schedule.
fn violation_text(
    image: &ProgrammeImage,
    first: &Forbids,
    count: u16,
    furnace: &str,
) -> String {
    let action = first.step.and_then(|index| image.steps().nth(usize::from(index)));
    let kind = action.map_or("step", |step| StageKind::from(&step.action).word());
    let (message, help) = fault_words(&first.kind, kind, furnace);
    let place =
        first.step.map_or_else(String::new, |step| format!("step {}: ", u16::from(step) + 1));
    let more = match count {
        0 | 1 => String::new(),
        count => format!(" (the first of {count} findings)"),
    };
    format!("{place}{message}{more}; {help}")
}
