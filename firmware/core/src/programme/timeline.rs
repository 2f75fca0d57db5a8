//! The course of a programme by plan: from which setpoint a step begins, and how long it takes at
//! least. Everything that has to know it beforehand asks here, so that all say the same as the
//! sequencer does.

use super::Action;

/// What a furnace is taken to read when a firing starts (thousandths of °C): a warm room. A
/// first ramp starts from what it really reads.
pub const START_MC: i32 = 25_000;

/// Where the setpoint stands between two steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timeline {
    at_mc: i32,
    basis: SetpointOrigin,
}

/// What a setpoint rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetpointOrigin {
    /// No ramp has come yet: it is what the furnace reads, at most [`START_MC`] if it is cold.
    Start,
    /// A ramp set it.
    Ramp,
    /// The chamber was moved since the last ramp: the next one starts from what the furnace then
    /// reads, no more than this if it was heated to this.
    Moved,
}

impl Timeline {
    /// Before the first step.
    pub const fn new() -> Self {
        Self { at_mc: START_MC, basis: SetpointOrigin::Start }
    }

    /// From here a ramp would start (thousandths of °C).
    pub const fn setpoint_mc(&self) -> i32 {
        self.at_mc
    }

    /// What [`Self::at_mc`] rests on.
    pub const fn origin(&self) -> SetpointOrigin {
        self.basis
    }

    /// What a soak or a hold would keep (thousandths of °C); `None` if no ramp set anything.
    pub fn held_setpoint_mc(&self) -> Option<i32> {
        (self.basis == SetpointOrigin::Ramp).then_some(self.at_mc)
    }

    /// Goes on behind a step. Returns the shortest time that the step takes (ms): a ramp at its
    /// rate without its corners, no time to cool, no wait for an answer or a vacuum.
    pub fn advance(&mut self, action: &Action) -> u64 {
        match *action {
            Action::Ramp { to_mc, rate_mk_per_min } => {
                let way_mk = u64::from(to_mc.abs_diff(self.at_mc));
                *self = Self { at_mc: to_mc, basis: SetpointOrigin::Ramp };
                let rate = u64::from(rate_mk_per_min);
                way_mk.saturating_mul(60_000).checked_div(rate).unwrap_or(0)
            }
            Action::Soak { duration_ms: for_ms, .. } => u64::from(for_ms),
            // A setpoint that is lower already stays.
            Action::Cool { below_mc } => {
                self.at_mc = self.at_mc.min(below_mc);
                0
            }
            Action::MoveClosure { dwell_ms: stay_ms, .. } => {
                self.basis = SetpointOrigin::Moved;
                u64::from(stay_ms)
            }
            Action::Hold { .. } => 0,
        }
    }
}
