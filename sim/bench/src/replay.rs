//! Runs a recorded firing again: the same core, the same inputs, and the first bit that differs.

use saggar_core::Controller;
use saggar_core::controller::{ControllerStatus, RestoreError};
use saggar_core::furnace::Furnace;
use saggar_core::io::Outputs;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Tick;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use crate::reference_core::{MismatchError, ReferenceCore};

/// Ticks that are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Gap {
    /// Number of the last tick before.
    pub after: u32,
    /// Number of the next one there is; those up to the next origin are not compared.
    pub before: u32,
    /// The device came up anew in between: its numbers began again, and what it did is not known.
    pub anew: bool,
}

/// The first output that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OutputDifference {
    /// Number of the tick.
    pub tick: u32,
    /// Time since the device came up (ms).
    pub at_ms: u64,
    /// Which output.
    pub output: &'static str,
    /// What the device did.
    pub recorded: u8,
    /// What the replay does.
    pub replayed: u8,
}

/// Why a replay cannot go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReplayError {
    /// The furnace's data in the head cannot be read.
    Furnace,
    /// This origin names a programme that the log does not have.
    NoProgramme(u32),
    /// From this origin no core can be made.
    Origin(u32, RestoreError),
}

/// What a replay came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReplayResult {
    /// Stretches without a gap, each from an origin on.
    pub stretches: u32,
    /// Ticks that were compared.
    pub compared: u64,
    /// Ticks that follow no origin, and cannot be.
    pub skipped: u64,
    /// Ticks that are missing: the first of the gaps.
    pub gaps: Vec<Gap>,
    /// How many gaps there are.
    pub gap_count: u64,
    /// The first difference; nothing behind it was compared.
    pub difference: Option<OutputDifference>,
}

/// Gaps that are told one by one.
const GAPS_MAX: usize = 1000;

/// A recording that is run again, as its records come.
pub struct Replayer {
    furnace: Furnace,
    programme: Vec<u8>,
    stretch: Option<Stretch>,
    /// The last tick there is.
    last: Option<u32>,
    replay: ReplayResult,
}

/// The core under way.
struct Stretch {
    twin: ReferenceCore,
    number: u32,
}

impl Replayer {
    /// Of a device whose furnace this is.
    pub fn new(furnace: Furnace) -> Self {
        let replay = ReplayResult::default();
        Self { furnace, programme: Vec::new(), stretch: None, last: None, replay }
    }

    /// The programme that the origins from here on name.
    pub fn set_programme(&mut self, bytes: Vec<u8>) {
        self.programme = bytes;
    }

    /// The core's memory after this tick, with the programme of this digest loaded.
    ///
    /// # Errors
    /// No core can be made of it.
    pub fn begin_at_origin(
        &mut self,
        number: u32,
        programme: Option<[u8; DIGEST_BYTES]>,
        memory: &[u8],
    ) -> Result<(), ReplayError> {
        let core = restored(&self.furnace, &self.programme, number, programme, memory)?;
        let known = self.stretch.as_ref().map(|stretch| stretch.number);
        let after = known.filter(|after| number > *after);
        let before_anew = self.last.filter(|last| number < *last);
        if let Some(after) = after.or(before_anew) {
            self.gap(after, number.saturating_add(1));
        }
        self.last = Some(number);
        self.stretch = Some(Stretch { twin: ReferenceCore::new(core), number });
        self.replay.stretches += 1;
        Ok(())
    }

    /// A tick: compares it, if it can be and nothing has differed yet. What the core shows after it, if
    /// one ran.
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
            self.gap(after, tick.number);
            self.stretch = None;
            self.replay.skipped += 1;
            return None;
        }
        running.number = tick.number;
        let followed = running.twin.compare(tick);
        let status = running.twin.core.status();
        self.replay.compared += 1;
        self.replay.difference = followed.err().as_ref().and_then(OutputDifference::of);
        Some(status)
    }

    /// What it came to.
    pub fn finish(self) -> ReplayResult {
        self.replay
    }

    fn gap(&mut self, after: u32, before: u32) {
        self.replay.gap_count += 1;
        if self.replay.gaps.len() < GAPS_MAX {
            self.replay.gaps.push(Gap { after, before, anew: before <= after });
        }
    }
}

fn restored(
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
    /// The first output that is not the same.
    fn of(differs: &MismatchError) -> Option<Self> {
        let MismatchError { tick, at_ms, reference: here, device: there } = *differs;
        let pairs = named(&there).into_iter().zip(named(&here));
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
fn named(outputs: &Outputs) -> [(&'static str, u8); 8] {
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
