//! The pump-down of a vacuum stage: from which temperature, to which pressure, within what time.

use serde::Serialize;

use super::interface::SequencerInputs;
use crate::TICK_MS;
use crate::demand::Setpoint;
use crate::programme::VacuumStage;
use crate::units::Celsius;

/// The vacuum counts as lost when the pressure exceeds the stage's by this factor.
const LOST_FACTOR: u32 = 2;

/// Time for which the pressure must hold before it counts as reached (ms), so that a single reading
/// of a noisy gauge does not.
const SETTLED_MS: u32 = 1_000;

/// The pump-down of a vacuum stage. Consecutive steps with the same stage share it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct PumpDown {
    phase: PumpDownPhase,
    /// Total time spent waiting for the pressure (ms).
    waited_ms: u32,
    /// Time for which the pressure has held without a break (ms).
    reached_ms: u32,
    /// The pressure was reached before, maybe before a power cut.
    drawn: bool,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
enum PumpDownPhase {
    /// No stage, or its temperature is not reached yet.
    #[default]
    Idle,
    /// The pump runs; the pressure is not reached yet.
    Waiting,
    /// The pressure is reached.
    Reached,
}

impl PumpDown {
    /// After a power cut. A vacuum that was drawn before is drawn again at once, however far the reading
    /// has fallen, and before the heat goes on.
    pub(super) fn after_cut(drawn: bool) -> Self {
        Self { drawn, ..Self::default() }
    }

    /// Processes one tick. The pump-down starts when the reading or the setpoint reaches the stage's
    /// temperature: a reading that stays half a kelvin short of the setpoint would never start it.
    pub(super) fn update(
        &mut self,
        stage: Option<&VacuumStage>,
        inputs: &SequencerInputs,
        setpoint: Option<Setpoint>,
    ) {
        let Some(stage) = stage else { return *self = Self::default() };
        let at_most = |max_pa: u32| inputs.pressure_pa.is_some_and(|pa| pa <= max_pa);
        let from_c = Celsius::from_milli(stage.from_mc).get();
        let at_temperature = inputs.reading_c.is_some_and(|reading| reading >= from_c)
            || setpoint.is_some_and(|setpoint| setpoint.celsius >= from_c);
        let lost = !at_most(stage.to_pa.saturating_mul(LOST_FACTOR));
        self.reached_ms =
            if at_most(stage.to_pa) { self.reached_ms.saturating_add(TICK_MS) } else { 0 };
        self.phase = match self.phase {
            // Never pumps an open chamber.
            PumpDownPhase::Idle if (at_temperature || self.drawn) && inputs.shut => {
                PumpDownPhase::Waiting
            }
            PumpDownPhase::Idle => PumpDownPhase::Idle,
            PumpDownPhase::Waiting if self.reached_ms >= SETTLED_MS => PumpDownPhase::Reached,
            PumpDownPhase::Reached if lost => PumpDownPhase::Waiting,
            PumpDownPhase::Waiting => PumpDownPhase::Waiting,
            PumpDownPhase::Reached => PumpDownPhase::Reached,
        };
        self.drawn |= self.is_reached();
        if self.is_waiting() {
            self.waited_ms = self.waited_ms.saturating_add(TICK_MS);
        }
    }

    /// True while the pump must run.
    pub(super) const fn needs_pump(self) -> bool {
        !matches!(self.phase, PumpDownPhase::Idle)
    }

    /// True while the programme must wait for the pressure.
    pub(super) const fn is_waiting(self) -> bool {
        matches!(self.phase, PumpDownPhase::Waiting)
    }

    /// True while the pressure is reached.
    pub(super) const fn is_reached(self) -> bool {
        matches!(self.phase, PumpDownPhase::Reached)
    }

    /// True once the pressure was reached, maybe before a power cut.
    pub(super) const fn is_drawn(self) -> bool {
        self.drawn
    }

    /// True once the stage has waited longer than its time limit.
    pub(super) fn is_overdue(self, stage: Option<&VacuumStage>) -> bool {
        self.is_waiting() && stage.is_some_and(|stage| self.waited_ms > stage.within_ms)
    }
}
