//! The second that the watches share. What need not be judged in every tick is judged once a second, by
//! each watch in a tick of its own, so that no tick carries them all.

use serde::Serialize;

/// Ticks in a second.
pub(super) const SECOND_TICKS: u8 = 10;

/// The ticks of a second in which the watches make their checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub(super) enum Check {
    Temperatures = 0,
    Setpoint = 1,
    Current = 3,
    Vacuum = 6,
}

/// Counts the ticks of a second and forms the mean of the duty, which comes in steps of a mains cycle: only
/// a mean says anything.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct Second {
    tick: u8,
    duty_sum: f32,
    /// The mean of the last whole second.
    duty: f32,
}

impl Second {
    /// Adds one tick, in which this duty was commanded.
    pub(super) fn update(&mut self, duty: f32) {
        self.duty_sum += duty;
        self.tick = self.tick.wrapping_add(1);
        if self.tick >= SECOND_TICKS {
            self.duty = self.duty_sum / f32::from(SECOND_TICKS);
            (self.tick, self.duty_sum) = (0, 0.0);
        }
    }

    /// True in the tick in which this check is due.
    pub(super) const fn is_due(&self, check: Check) -> bool {
        self.tick == check as u8
    }

    /// Mean duty of the last whole second.
    pub(super) const fn duty(&self) -> f32 {
        self.duty
    }
}
