//! Replays a recorded firing with the same core and inputs, and finds the first output that differs.

use saggar_core::Controller;
use saggar_core::controller::{ControllerStatus, RestoreError};
use saggar_core::furnace::Furnace;
use saggar_core::io::Outputs;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Tick;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use crate::reference_core::{MismatchError, ReferenceCore};

/// A gap of missing ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Gap {
    /// Number of the last tick before.
    pub after: u32,
    /// Number of the next tick; ticks up to the next origin are not compared.
    pub before: u32,
    /// The device rebooted in between: its tick numbers restarted, and what it did is not known.
    #[serde(rename = "anew")]
    pub is_restart: bool,
}

/// The first output that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OutputDifference {
    /// Number of the tick.
    pub tick: u32,
    /// Time since the device booted (ms).
    pub at_ms: u64,
    /// Which output.
    pub output: &'static str,
    /// The recorded value.
    pub recorded: u8,
    /// The replayed value.
    pub replayed: u8,
}

/// Why a replay cannot go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReplayError {
    /// The furnace's data in the log's header cannot be read.
    Furnace,
    /// This origin names a programme that the log does not have.
    NoProgramme(u32),
    /// The core cannot be restored from this origin.
    Origin(u32, RestoreError),
}

/// The result of a replay.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReplayResult {
    /// Stretches without a gap, each starting at an origin.
    pub stretches: u32,
    /// Ticks that were compared.
    pub compared: u64,
    /// Ticks that cannot be compared because no origin precedes them.
    pub skipped: u64,
    /// The first gaps.
    pub gaps: Vec<Gap>,
    /// Total number of gaps.
    pub gap_count: u64,
    /// The first difference; later ticks were not compared.
    pub difference: Option<OutputDifference>,
}

/// Largest number of gaps that are listed.
const GAPS_MAX: usize = 1000;

/// Replays a recording record by record.
pub struct Replayer {
    furnace: Furnace,
    programme: Vec<u8>,
    stretch: Option<Stretch>,
    /// Number of the last tick.
    last: Option<u32>,
    replay: ReplayResult,
}

/// The core and the number of its last tick.
struct Stretch {
    twin: ReferenceCore,
    number: u32,
}

impl Replayer {
    /// A replayer for a device with this furnace.
    pub fn new(furnace: Furnace) -> Self {
        let replay = ReplayResult::default();
        Self { furnace, programme: Vec::new(), stretch: None, last: None, replay }
    }

    /// Sets the programme that later origins refer to.
    pub fn set_programme(&mut self, bytes: Vec<u8>) {
        self.programme = bytes;
    }

    /// Restores the core's state after this tick, with the programme of this digest loaded.
    ///
    /// # Errors
    /// The core cannot be restored from it.
    pub fn begin_at_origin(
        &mut self,
        number: u32,
        programme: Option<[u8; DIGEST_BYTES]>,
        memory: &[u8],
    ) -> Result<(), ReplayError> {
        let core = restore_core(&self.furnace, &self.programme, number, programme, memory)?;
        let known = self.stretch.as_ref().map(|stretch| stretch.number);
        let after = known.filter(|after| number > *after);
        let before_reboot = self.last.filter(|last| number < *last);
        if let Some(after) = after.or(before_reboot) {
            self.record_gap(after, number.saturating_add(1));
        }
        self.last = Some(number);
        self.stretch = Some(Stretch { twin: ReferenceCore::new(core), number });
        self.replay.stretches += 1;
        Ok(())
    }

    /// Compares a tick, unless no origin precedes it or an earlier tick differed. Returns the core's status
    /// after the tick; `None` if it was not compared.
    pub fn replay_tick(&mut self, tick: &Tick) -> Option<ControllerStatus> {
        self.last = Some(tick.number);
        if self.replay.difference.is_some() {
            return None;
        }
        let Some(running) = &mut self.stretch else {
            self.replay.skipped += 1;
            return None;
        };
        if tick.number != running.number.wrapping_add(1) {
            let after = running.number;
            self.record_gap(after, tick.number);
            self.stretch = None;
            self.replay.skipped += 1;
            return None;
        }
        running.number = tick.number;
        let result = running.twin.compare(tick);
        let status = running.twin.core.status();
        self.replay.compared += 1;
        self.replay.difference = result.err().as_ref().and_then(OutputDifference::of);
        Some(status)
    }

    /// Status of the core of the present stretch.
    pub fn status(&self) -> Option<ControllerStatus> {
        self.stretch.as_ref().map(|stretch| stretch.twin.core.status())
    }

    /// Whether a recorded output differed.
    pub const fn differed(&self) -> bool {
        self.replay.difference.is_some()
    }

    /// The result.
    pub fn finish(self) -> ReplayResult {
        self.replay
    }

    fn record_gap(&mut self, after: u32, before: u32) {
        self.replay.gap_count += 1;
        if self.replay.gaps.len() < GAPS_MAX {
            self.replay.gaps.push(Gap { after, before, is_restart: before <= after });
        }
    }
}

/// A core as it was at an origin of a recording, with the programme of this digest loaded.
///
/// # Errors
/// The core cannot be restored from it.
pub fn restore_core(
    furnace: &Furnace,
    programme: &[u8],
    number: u32,
    digest: Option<[u8; DIGEST_BYTES]>,
    memory: &[u8],
) -> Result<Controller, ReplayError> {
    let loaded = match &digest {
        None => None,
        Some(digest) => {
            let found: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
            if found != *digest {
                return Err(ReplayError::NoProgramme(number));
            }
            Some((programme, digest))
        }
    };
    Controller::from_snapshot(furnace.clone(), loaded, memory)
        .map_err(|why| ReplayError::Origin(number, why))
}

impl OutputDifference {
    /// The first output that differs.
    fn of(differs: &MismatchError) -> Option<Self> {
        let MismatchError { tick, at_ms, reference, device } = *differs;
        let pairs = by_name(&device).into_iter().zip(by_name(&reference));
        let first = pairs.into_iter().find(|(recorded, replayed)| recorded.1 != replayed.1);
        first.map(|((output, recorded), (_, replayed))| Self {
            tick,
            at_ms,
            output,
            recorded,
            replayed,
        })
    }
}

/// Every output by its name.
fn by_name(outputs: &Outputs) -> [(&'static str, u8); 8] {
    let Outputs {
        heater_cycles,
        contactor,
        pump,
        isolation_valve,
        vent_valve,
        open_closure,
        lamp,
        buzzer,
    } = *outputs;
    [
        ("heater_cycles", heater_cycles),
        ("contactor", contactor.into()),
        ("pump", pump.into()),
        ("isolation_valve", isolation_valve.into()),
        ("vent_valve", vent_valve.into()),
        ("open_closure", open_closure.into()),
        ("lamp", lamp.into()),
        ("buzzer", buzzer.into()),
    ]
}
