//! `replay`: run a recorded firing again and compare every output.

use std::path::Path;

use saggar_core::controller::{ControllerStatus, RestoreError, SNAPSHOT_VERSION};
use saggar_core::furnace::Furnace;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Tick;

use crate::error::CliError;
use saggar_bench::recorded::{CorePhase, FiringScan, RecordedFiring};
use saggar_bench::replay::{ReplayError, ReplayResult, Replayer};
use saggar_bench::trace::{MeasurementReader, Row};
use saggar_client::link::printable_name;
use saggar_client::logfile::{LogDamage, LogRecord, Reader};
use saggar_files::atomic_file::{AtomicFile, WriteError};
use saggar_files::{Diagnostic, display_path, hex};
use saggar_report::TraceCsv;

/// A log that was run again.
#[derive(Debug)]
pub struct LogReplay {
    /// Its file.
    pub file: String,
    /// Name of the device.
    pub device: String,
    /// Digest of the furnace's data.
    pub furnace: String,
    /// When it began (s since 1970).
    pub began_s: u64,
    /// The firing in it that can be judged, if possible of the programme that was asked for, or the last one;
    /// `None` if none begins.
    pub firing: Option<RecordedFiring>,
    /// The comparison.
    pub replay: ReplayResult,
    /// The recording is cut or damaged.
    pub torn: Option<LogDamage>,
    /// Length of the file (bytes).
    pub bytes: u64,
    /// The file of comma-separated values that was written.
    pub csv: Option<String>,
}

impl Conclusion {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Equal => "equal",
            Self::Different => "different",
            Self::NotKnown => "not known",
            Self::Damaged(_) => "damaged",
        }
    }
}

impl LogReplay {
    /// The conclusion.
    pub const fn conclusion(&self) -> Conclusion {
        match (self.torn, &self.replay.difference, self.replay.compared) {
            (Some(torn), _, _) if torn.corrupt => Conclusion::Damaged(torn),
            (_, Some(_), _) => Conclusion::Different,
            (_, None, 0) => Conclusion::NotKnown,
            (_, None, _) => Conclusion::Equal,
        }
    }

    /// Why nothing was compared, and what to do.
    pub fn why_not_known(&self) -> Option<String> {
        let why = match (self.conclusion(), self.replay.skipped) {
            (Conclusion::Equal | Conclusion::Different | Conclusion::Damaged(_), _) => {
                return None;
            }
            (Conclusion::NotKnown, 0) => "no tick was recorded".to_owned(),
            (Conclusion::NotKnown, ticks) => format!(
                "none of its {ticks} ticks follows an origin, the core's memory from which a \
                 replay begins"
            ),
        };
        let cure = "record the firing again with `saggar device watch --record`, from before the start \
                    until the firing has ended";
        Some(format!("{why}: {cure}"))
    }
}

/// The conclusion of a replay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// All outputs that could be compared are the same.
    Equal,
    /// An output differs.
    Different,
    /// Nothing was compared.
    NotKnown,
    /// The recording is damaged: the comparison covers only the ticks before the damage.
    Damaged(LogDamage),
}

/// Runs a log again and looks for a firing of the programme with this digest, or of any; writes its ticks into
/// a file of comma-separated values, if one is named.
///
/// # Errors
/// Why the log cannot be read, or the file not be written.
pub fn replay(
    path: &Path,
    csv: Option<&Path>,
    programme: Option<[u8; DIGEST_BYTES]>,
) -> Result<LogReplay, CliError> {
    let name = path.display().to_string();
    let mut reader = Reader::open(path)?;
    let furnace: Furnace = postcard::from_bytes(&reader.head.furnace)
        .map_err(|_| stopped(&name, &ReplayError::Furnace))?;
    let mut rows = csv.map(|_| TraceTable::new(&furnace)).transpose()?;
    let (mut replayer, mut scan) = (Replayer::new(furnace), FiringScan::default());
    let torn = loop {
        match reader.record() {
            Ok(Some(LogRecord::Programme(bytes))) => replayer.set_programme(bytes),
            Ok(Some(LogRecord::Origin { number, programme, memory })) => {
                replayer
                    .begin_at_origin(number, programme, &memory)
                    .map_err(|why| stopped(&name, &why))?;
                let phase = replayer.status().map_or(CorePhase::Idle, CorePhase::from);
                scan.origin(number, programme, phase);
            }
            Ok(Some(LogRecord::Tick(tick))) => {
                let status = replayer.replay_tick(&tick);
                scan.tick(tick.number, status.map(CorePhase::from), replayer.differed());
                rows.as_mut().map_or(Ok(()), |rows| rows.add(&tick, status.as_ref()))?;
            }
            Ok(None) => break None,
            Err(torn) => break Some(torn),
        }
    };
    if let (Some(csv), Some(rows)) = (csv, rows) {
        let taken = "it exists already: name another file, this one is not replaced";
        AtomicFile::create(csv, &rows.table.finish()?)?
            .commit(false)
            .map_err(|why| if why.exists { WriteError::new(csv, taken) } else { why })?;
    }
    Ok(LogReplay {
        file: display_path(path),
        device: printable_name(&reader.head.device),
        furnace: hex(&furnace_digest(&reader.head.furnace)),
        began_s: reader.head.began_s,
        firing: scan.finish(programme),
        replay: replayer.finish(),
        torn,
        bytes: std::fs::metadata(path).map_or(0, |data| data.len()),
        csv: csv.map(display_path),
    })
}

/// The ticks of a device as a rehearsal's trace has its rows.
struct TraceTable {
    meter: MeasurementReader,
    table: TraceCsv<Vec<u8>>,
}

impl TraceTable {
    fn new(furnace: &Furnace) -> Result<Self, CliError> {
        Ok(Self { meter: MeasurementReader::new(furnace), table: TraceCsv::new(Vec::new())? })
    }

    fn add(&mut self, tick: &Tick, status: Option<&ControllerStatus>) -> Result<(), CliError> {
        let (number, inputs, outputs) = (tick.number.into(), tick.inputs(), tick.outputs());
        let duty = self.meter.duty(&outputs);
        let measured = self.meter.read(number, &inputs, &outputs, duty, status);
        let row = Row { at_s: tick.at_ms as f64 / 1e3, measured, modelled: None };
        Ok(self.table.row(&row)?)
    }
}

fn furnace_digest(bytes: &[u8]) -> [u8; 32] {
    use sha2::{Digest as _, Sha256};
    Sha256::digest(bytes).into()
}

fn stopped(name: &str, why: &ReplayError) -> Diagnostic {
    let state = "bring this tool to the state of the device's image";
    let (message, help) = match why {
        ReplayError::Furnace => ("the furnace's data in it cannot be read".to_owned(), state),
        ReplayError::NoProgramme(number) => (
            format!("the programme of the origin at tick {number} is not in it"),
            "it was altered, or this tool is too old for it",
        ),
        ReplayError::Origin(number, RestoreError::UnsupportedVersion(version)) => {
            let version =
                version.map_or_else(|| "none".to_owned(), |version| version.to_string());
            let ours = SNAPSHOT_VERSION;
            let message = format!(
                "recorded by another core: its memory at tick {number} has version {version}, and \
                 this tool has core version {ours}"
            );
            (message, "replay it with the tool that recorded it")
        }
        ReplayError::Origin(
            number,
            RestoreError::Load(_)
            | RestoreError::Malformed
            | RestoreError::ProgrammeMismatch
            | RestoreError::NoSuchStep,
        ) => (
            format!("from the origin at tick {number} no core can be made"),
            "it was altered, or is of another version of the tool",
        ),
    };
    Diagnostic::for_file(name, message, help)
}
