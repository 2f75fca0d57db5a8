//! Runs a recorded firing again: the same core, the same inputs, and the first bit that differs.

use std::io::Read;

use saggar_core::Controller;
use saggar_core::controller::RestoreError;
use saggar_core::furnace::Furnace;
use saggar_core::io::Outputs;
use saggar_core::programme::DIGEST_BYTES;
use saggar_core::units::Instant;
use saggar_device::wire::Tick;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::{Reader, Record, Torn};

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
pub struct Differs {
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
pub enum Stopped {
    /// The furnace's data in the head cannot be read.
    Furnace,
    /// This origin names a programme that the log does not have.
    NoProgramme(u32),
    /// From this origin no core can be made.
    Origin(u32, RestoreError),
}

/// What a replay came to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Replay {
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
    pub differs: Option<Differs>,
    /// The log ends before its time.
    pub torn: Option<Torn>,
}

/// What a replay says of a firing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// The core does again what it did, wherever it could be compared.
    Equal,
    /// It does something else.
    Different,
    /// Nothing was compared, which is not equal.
    NotKnown,
    /// The log is damaged. What is said of the ticks before is said of no whole firing.
    Damaged(Torn),
}

/// Gaps that are told one by one.
const GAPS_MAX: usize = 1000;

/// The core under way.
struct Stretch {
    core: Controller,
    number: u32,
}

impl Replay {
    /// Runs a log again; `each` sees every tick there is, compared or not.
    ///
    /// # Errors
    /// Why it cannot go on.
    pub fn of<R: Read>(
        reader: &mut Reader<R>,
        mut each: impl FnMut(&Tick),
    ) -> Result<Self, Stopped> {
        let furnace: Furnace =
            postcard::from_bytes(&reader.head.furnace).map_err(|_| Stopped::Furnace)?;
        let mut replay = Self::default();
        let mut programme: Vec<u8> = Vec::new();
        let mut stretch: Option<Stretch> = None;
        // The last tick there is.
        let mut last: Option<u32> = None;
        loop {
            match reader.record() {
                Ok(Some(Record::Programme(bytes))) => programme = bytes,
                Ok(Some(Record::Origin { number, programme: digest, memory })) => {
                    let core = restored(&furnace, &programme, number, digest, &memory)?;
                    let known = stretch.as_ref().map(|stretch| stretch.number);
                    let after = known.filter(|after| number > *after);
                    let before_anew = last.filter(|last| number < *last);
                    if let Some(after) = after.or(before_anew) {
                        replay.gap(after, number.saturating_add(1));
                    }
                    last = Some(number);
                    stretch = Some(Stretch { core, number });
                    replay.stretches += 1;
                }
                Ok(Some(Record::Tick(tick))) => {
                    each(&tick);
                    last = Some(tick.number);
                    if replay.differs.is_none() {
                        replay.tick(&mut stretch, &tick);
                    }
                }
                Ok(None) => return Ok(replay),
                Err(torn) => {
                    replay.torn = Some(torn);
                    return Ok(replay);
                }
            }
        }
    }

    /// What all of it comes to.
    pub const fn conclusion(&self) -> Conclusion {
        match (self.torn, &self.differs, self.compared) {
            (Some(torn), _, _) if torn.damaged => Conclusion::Damaged(torn),
            (_, Some(_), _) => Conclusion::Different,
            (_, None, 0) => Conclusion::NotKnown,
            (_, None, _) => Conclusion::Equal,
        }
    }

    fn gap(&mut self, after: u32, before: u32) {
        self.gap_count += 1;
        if self.gaps.len() < GAPS_MAX {
            self.gaps.push(Gap { after, before, anew: before <= after });
        }
    }

    fn tick(&mut self, stretch: &mut Option<Stretch>, tick: &Tick) {
        let Some(running) = stretch else {
            self.skipped += 1;
            return;
        };
        if tick.number != running.number.wrapping_add(1) {
            self.gap(running.number, tick.number);
            *stretch = None;
            self.skipped += 1;
            return;
        }
        running.number = tick.number;
        let now = Instant::from_millis(tick.at_ms);
        let replayed = running.core.step(now, &tick.inputs());
        self.compared += 1;
        self.differs = differs(tick, &tick.outputs(), &replayed);
    }
}

fn restored(
    furnace: &Furnace,
    programme: &[u8],
    number: u32,
    digest: Option<[u8; DIGEST_BYTES]>,
    memory: &[u8],
) -> Result<Controller, Stopped> {
    let loaded = match &digest {
        None => None,
        Some(digest) => {
            let found: [u8; DIGEST_BYTES] = Sha256::digest(programme).into();
            if found != *digest {
                return Err(Stopped::NoProgramme(number));
            }
            Some((programme, digest))
        }
    };
    Controller::restored(furnace.clone(), loaded, memory)
        .map_err(|why| Stopped::Origin(number, why))
}

/// Every output by its name.
pub(super) fn named(outputs: &Outputs) -> [(&'static str, u8); 8] {
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

fn differs(tick: &Tick, recorded: &Outputs, replayed: &Outputs) -> Option<Differs> {
    let pairs = named(recorded).into_iter().zip(named(replayed));
    let first = pairs.into_iter().find(|(recorded, replayed)| recorded.1 != replayed.1);
    first.map(|((output, recorded), (_, replayed))| Differs {
        tick: tick.number,
        at_ms: tick.at_ms,
        output,
        recorded,
        replayed,
    })
}
