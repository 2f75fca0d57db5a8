//! The vacuum stage of a step: from what reading, to what pressure, by when.

use serde::Serialize;

use super::ramp::Setpoint;
use super::terms::SequencerInputs;
use crate::TICK_MS;
use crate::programme::VacuumStage;
use crate::units::Celsius;

/// How far the pressure may rise above the stage's before it counts as lost.
const LOST_FACTOR: u32 = 2;

/// Time for which the pressure must be there before it counts as reached (ms): one reading of a
/// noisy gauge is no vacuum.
const SETTLED_MS: u32 = 1_000;

/// Where a vacuum stage is. It outlives a step that the next one carries on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub(super) struct PumpDown {
    phase: PumpDownPhase,
    /// Time that the stage has waited for its pressure so far, all waits together (ms).
    waited_ms: u32,
    /// Time for which the pressure has been there without a break (ms).
    there_ms: u32,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
enum PumpDownPhase {
    /// Atmosphere, or a stage whose reading has not come yet.
    #[default]
    Not,
    /// The pump runs; the pressure is not there yet.
    Waiting,
    /// The pressure has been reached.
    Reached,
}

impl PumpDown {
    /// One tick of `stage`. It begins when the reading comes to its temperature, or the setpoint
    /// does: a reading half a kelvin short of a setpoint would wait for ever.
    pub(super) fn next(
        &mut self,
        stage: Option<&VacuumStage>,
        now: &SequencerInputs,
        setpoint: Option<Setpoint>,
    ) {
        let Some(stage) = stage else { return *self = Self::default() };
        let below = |most: u32| now.pressure_pa.is_some_and(|pa| pa <= most);
        let from_c = Celsius::from_milli(stage.from_mc).get();
        let due = now.reading_c.is_some_and(|reading| reading >= from_c)
            || setpoint.is_some_and(|setpoint| setpoint.celsius >= from_c);
        let lost = !below(stage.to_pa.saturating_mul(LOST_FACTOR));
        self.there_ms =
            if below(stage.to_pa) { self.there_ms.saturating_add(TICK_MS) } else { 0 };
        self.phase = match self.phase {
            // Never on an open chamber.
            PumpDownPhase::Not if due && now.shut => PumpDownPhase::Waiting,
            PumpDownPhase::Not => PumpDownPhase::Not,
            PumpDownPhase::Waiting if self.there_ms >= SETTLED_MS => PumpDownPhase::Reached,
            PumpDownPhase::Reached if lost => PumpDownPhase::Waiting,
            PumpDownPhase::Waiting => PumpDownPhase::Waiting,
            PumpDownPhase::Reached => PumpDownPhase::Reached,
        };
        if self.waits() {
            self.waited_ms = self.waited_ms.saturating_add(TICK_MS);
        }
    }

    /// The pump is wanted.
    pub(super) const fn draws(self) -> bool {
        !matches!(self.phase, PumpDownPhase::Not)
    }

    /// A rising setpoint waits.
    pub(super) const fn waits(self) -> bool {
        matches!(self.phase, PumpDownPhase::Waiting)
    }

    /// The pressure has been reached.
    pub(super) const fn reached(self) -> bool {
        matches!(self.phase, PumpDownPhase::Reached)
    }

    /// The stage has used up its time.
    pub(super) fn overdue(self, stage: Option<&VacuumStage>) -> bool {
        self.waits() && stage.is_some_and(|stage| self.waited_ms > stage.within_ms)
    }
}
