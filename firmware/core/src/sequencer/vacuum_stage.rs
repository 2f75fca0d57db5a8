//! The vacuum stage of a step: from what reading, to what pressure, by when.

use super::Now;
use crate::programme::VacuumStage;
use crate::units::Instant;

/// How far the pressure may rise above the stage's before it counts as lost.
const LOST_FACTOR: u32 = 2;

/// Where a vacuum stage is. It outlives a step: the next one may carry it on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Drawing {
    /// Atmosphere, or a stage whose reading has not come yet.
    #[default]
    Not,
    /// The pump runs since then; the pressure is not there yet.
    Since(Instant),
    /// The pressure has been reached.
    Reached,
}

impl Drawing {
    /// The state after one tick of `stage`.
    pub(super) fn next(self, stage: Option<&VacuumStage>, now: &Now) -> Self {
        let Some(stage) = stage else { return Self::Not };
        let there = now.pressure_pa.is_some_and(|pa| pa <= stage.to_pa);
        let lost =
            now.pressure_pa.is_none_or(|pa| pa > stage.to_pa.saturating_mul(LOST_FACTOR));
        let from_c = stage.from_mc as f32 * 0.001;
        let due = now.reading_c.is_some_and(|reading| reading >= from_c);
        match self {
            Self::Not if due => Self::Since(now.at),
            Self::Not => Self::Not,
            Self::Since(_) if there => Self::Reached,
            Self::Since(begin) => Self::Since(begin),
            Self::Reached if lost => Self::Since(now.at),
            Self::Reached => Self::Reached,
        }
    }

    /// A rising setpoint waits.
    pub(super) const fn waits(self) -> bool {
        matches!(self, Self::Since(_))
    }

    /// The stage has used up its time.
    pub(super) fn overdue(self, stage: Option<&VacuumStage>, now: Instant) -> bool {
        match (self, stage) {
            (Self::Since(begin), Some(stage)) => now.since(begin) > u64::from(stage.within_ms),
            (Self::Not | Self::Since(_) | Self::Reached, _) => false,
        }
    }
}
