//! The file with the state in which a rehearsal left the furnace, for a rehearsal that follows it.

use std::path::Path;

use saggar_plant::furnace_state::FurnaceState;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use saggar_files::{Diagnostic, SourceText, sanitized};

use crate::Digests;
use crate::ReportError;

/// Name of the file in the folder of a report.
pub(super) const FILE_NAME: &str = "furnace-state.json";

/// Identifies the file format.
const SCHEMA: &str = "saggar.furnace-state";

/// Version of the format. Increased when a field changes its meaning, is added or is removed.
const VERSION: u32 = 1;

/// The cure for a folder from which no rehearsal can go on.
const REHEARSE_AGAIN: &str = "rehearse that schedule again";

/// The file: which furnace, and its state.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StateFile {
    schema: String,
    version: u32,
    /// Name of the furnace.
    furnace: String,
    /// Digest of the furnace data as a device stores them.
    furnace_digest: String,
    state: FurnaceState,
}

/// The content of the file.
pub(super) fn to_json(
    furnace: &str,
    digests: &Digests,
    state: &FurnaceState,
) -> Result<String, ReportError> {
    let file = StateFile {
        schema: SCHEMA.to_owned(),
        version: VERSION,
        furnace: furnace.to_owned(),
        furnace_digest: digests.furnace.clone(),
        state: *state,
    };
    let mut text = serde_json::to_string_pretty(&file)?;
    text.push('\n');
    Ok(text)
}

/// Reads in which state the rehearsal of a folder left the furnace with these data.
///
/// # Errors
/// There is no such folder or no such file in it, the file is damaged or has another version, or it is
/// of another furnace.
pub fn read_furnace_state(
    folder: &Path,
    furnace: &str,
    furnace_digest: &str,
) -> Result<FurnaceState, Diagnostic> {
    let name_one = "name the folder of a rehearsal's report, such as rehearsals/NAME";
    if !folder.exists() {
        return Err(Diagnostic::for_file(folder, "there is no such folder", name_one));
    }
    if !folder.is_dir() {
        return Err(Diagnostic::for_file(folder, "this is a file, not a folder", name_one));
    }
    let path = folder.join(FILE_NAME);
    if !path.exists() {
        let message = format!("there is no {FILE_NAME} in this folder");
        let help = format!("{name_one}; if it is of an older saggar, {REHEARSE_AGAIN}");
        return Err(Diagnostic::for_file(folder, message, help));
    }
    let source = SourceText::read(&path, |_| None)?;
    let file = parse(&path, &source)?;
    if file.furnace_digest == furnace_digest {
        return Ok(file.state);
    }
    let digits = |digest: &str| sanitized(digest, 64).chars().take(8).collect::<String>();
    let message = format!(
        "it is the state of {} (furnace data {}), but this rehearsal is on {furnace} (furnace data {})",
        sanitized(&file.furnace, 100),
        digits(&file.furnace_digest),
        digits(furnace_digest),
    );
    let help = "rehearse both on the same furnace profile";
    Err(Diagnostic::for_file(&path, message, help))
}

fn parse(path: &Path, source: &SourceText) -> Result<StateFile, Diagnostic> {
    let wrong = |message: &str| Diagnostic::for_file(path, message, REHEARSE_AGAIN);
    let damaged = || wrong("this file is damaged, or not the state of a furnace");
    let value: Value = serde_json::from_str(source.text()).map_err(|_| damaged())?;
    // Check the version first: the fields of another version are unknown.
    match (value["schema"].as_str(), value["version"].as_u64()) {
        (Some(SCHEMA), Some(version)) if version != u64::from(VERSION) => {
            return Err(wrong(&format!(
                "this furnace state has version {version}, but this tool reads version {VERSION}"
            )));
        }
        (Some(SCHEMA), Some(_)) => {}
        (_, _) => return Err(damaged()),
    }
    let file: StateFile = serde_json::from_str(source.text()).map_err(|_| damaged())?;
    if file.state.is_credible() { Ok(file) } else { Err(damaged()) }
}
