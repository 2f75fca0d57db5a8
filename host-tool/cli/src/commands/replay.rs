//! `replay`: run a recorded firing again, and compare every output.

use std::path::Path;

use saggar_core::controller::RestoreError;
use saggar_core::furnace::Furnace;

use crate::Error;
use saggar_client::link::text_of;
use saggar_client::logfile::{Conclusion, Reader, Replay, Stopped, Table};
use saggar_files::whole::{Unwritten, Whole};
use saggar_files::{Finding, hex, shown};

/// A log that was run again.
#[derive(Debug)]
pub struct Replayed {
    /// Its file.
    pub file: String,
    /// Name of the device that it is of.
    pub device: String,
    /// Digest of the furnace's data.
    pub furnace: String,
    /// What came of it.
    pub replay: Replay,
    /// Length of the file (bytes).
    pub bytes: u64,
    /// The file of comma-separated values that was written.
    pub csv: Option<String>,
}

impl Replayed {
    /// Why nothing was compared, and what to do.
    pub fn why_not_known(&self) -> Option<String> {
        let why = match (self.replay.conclusion(), self.replay.skipped) {
            (Conclusion::Equal | Conclusion::Different | Conclusion::Damaged(_), _) => {
                return None;
            }
            (Conclusion::NotKnown, 0) => "no tick was recorded".to_owned(),
            (Conclusion::NotKnown, ticks) => format!(
                "none of its {ticks} ticks follows an origin, the core's memory from which a \
                 replay begins"
            ),
        };
        let cure = "record it anew with `saggar device watch --record`, from before the start \
                    until the firing has ended";
        Some(format!("{why}: {cure}"))
    }
}

/// Runs a log again; writes its ticks into a file of comma-separated values, if one is named.
///
/// # Errors
/// Why the log cannot be read, or the file not be written.
pub fn replay(path: &Path, csv: Option<&Path>) -> Result<Replayed, Error> {
    let name = path.display().to_string();
    let mut reader = Reader::open(path)?;
    let mut table = match csv {
        None => None,
        Some(_) => {
            let furnace: Furnace = postcard::from_bytes(&reader.head.furnace)
                .map_err(|_| stopped(&name, &Stopped::Furnace))?;
            Some(Table::new(Vec::new(), furnace))
        }
    };
    let mut failed = None;
    let replay = Replay::of(&mut reader, |tick| {
        if let Some(table) = &mut table
            && let Err(error) = table.row(tick)
        {
            failed = Some(error);
        }
    })
    .map_err(|why| stopped(&name, &why))?;
    if let (Some(csv), Some(table)) = (csv, table) {
        if let Some(error) = failed {
            return Err(Unwritten::because(csv, error.to_string()).into());
        }
        let taken = "it is there already: name another file, this one is not replaced";
        Whole::beside(csv, &table.finish()?)?
            .put(false)
            .map_err(|why| if why.exists { Unwritten::because(csv, taken) } else { why })?;
    }
    Ok(Replayed {
        file: shown(&name, 200),
        device: text_of(&reader.head.device),
        furnace: hex(&furnace_digest(&reader.head.furnace)),
        replay,
        bytes: std::fs::metadata(path).map_or(0, |data| data.len()),
        csv: csv.map(|csv| shown(&csv.display().to_string(), 200)),
    })
}

fn furnace_digest(bytes: &[u8]) -> [u8; 32] {
    use sha2::{Digest as _, Sha256};
    Sha256::digest(bytes).into()
}

fn stopped(name: &str, why: &Stopped) -> Finding {
    let state = "bring this tool to the state of the device's image";
    let (message, help) = match why {
        Stopped::Furnace => ("the furnace's data in it cannot be read".to_owned(), state),
        Stopped::NoProgramme(number) => (
            format!("the programme of the origin at tick {number} is not in it"),
            "it was altered, or this tool is too old for it",
        ),
        Stopped::Origin(number, RestoreError::OtherFormat(_)) => {
            (format!("the core's memory at tick {number} is of another version"), state)
        }
        Stopped::Origin(
            number,
            RestoreError::Load(_)
            | RestoreError::Unreadable
            | RestoreError::OtherProgramme
            | RestoreError::NoSuchStep,
        ) => (
            format!("from the origin at tick {number} no core can be made"),
            "it was altered, or is of another version of the tool",
        ),
    };
    Finding::on_file(name, message, help)
}
