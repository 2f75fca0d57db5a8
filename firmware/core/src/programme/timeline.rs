//! The planned course of a programme: the setpoint at which each step starts, and its minimum
//! duration. Verification, schedules and plots all use it, so that they agree with the sequencer.

use super::Action;

/// Assumed reading at the start of a firing (thousandths of °C): a warm ambient. The real first ramp
/// starts from the real reading.
pub const START_MC: i32 = 25_000;

/// The planned setpoint between two steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timeline {
    setpoint_mc: i32,
    origin: SetpointOrigin,
}

/// Where a planned setpoint comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetpointOrigin {
    /// No ramp yet: it is the reading at the start, at most [`START_MC`] for a cold furnace.
    Start,
    /// The last ramp set it.
    Ramp,
    /// The closure moved since the last ramp: the next ramp starts from the reading at that time,
    /// which is at most the planned setpoint if the furnace was heated to it.
    Moved,
}

impl Default for Timeline {
    fn default() -> Self {
        Self::new()
    }
}

impl Timeline {
    /// The timeline before the first step.
    pub const fn new() -> Self {
        Self { setpoint_mc: START_MC, origin: SetpointOrigin::Start }
    }

    /// The setpoint from which a ramp would start (thousandths of °C).
    pub const fn setpoint_mc(&self) -> i32 {
        self.setpoint_mc
    }

    /// Where [`Self::setpoint_mc`] comes from.
    pub const fn origin(&self) -> SetpointOrigin {
        self.origin
    }

    /// The setpoint that a soak or an operator hold would keep (thousandths of °C); `None` if no ramp
    /// has set one since the start or the last move.
    pub fn held_setpoint_mc(&self) -> Option<i32> {
        (self.origin == SetpointOrigin::Ramp).then_some(self.setpoint_mc)
    }

    /// Moves past a step and returns its minimum duration (ms): a ramp at its rate without the rounded
    /// corners, and no time for cooling, holds and pump-downs.
    pub fn advance(&mut self, action: &Action) -> u64 {
        match *action {
            Action::Ramp { to_mc, rate_mk_per_min } => {
                let distance_mk = u64::from(to_mc.abs_diff(self.setpoint_mc));
                *self = Self { setpoint_mc: to_mc, origin: SetpointOrigin::Ramp };
                let rate = u64::from(rate_mk_per_min);
                distance_mk.saturating_mul(60_000).checked_div(rate).unwrap_or(0)
            }
            Action::Soak { duration_ms, .. } => u64::from(duration_ms),
            // A setpoint that is already lower stays.
            Action::Cool { below_mc } => {
                self.setpoint_mc = self.setpoint_mc.min(below_mc);
                0
            }
            Action::MoveClosure { dwell_ms, .. } => {
                self.origin = SetpointOrigin::Moved;
                u64::from(dwell_ms)
            }
            Action::Hold { .. } => 0,
        }
    }
}
