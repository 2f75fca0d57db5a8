//! Station 2: filtered value, rate, and the worst case that an old reading allows.
//!
//! A two-state (position and rate) fixed-gain tracker: it follows a steady ramp without lag,
//! which a plain low-pass does not, and its residual shows a jump that no thermal mass can make.
//! Gains by the critically damped relation of T. R. Benedict and G. W. Bordner, "Synthesis of an
//! optimal set of radar track-while-scan smoothing equations", IRE Trans. Automatic Control 7
//! (1962) 27: β = α² / (2 − α).

use serde::Serialize;

use crate::TICK_S;
use crate::furnace::Limits;
use crate::sensors::{Reading, SensorFault};
use crate::units::Celsius;

/// Share of a residual that goes into the value.
const ALPHA: f32 = 0.2;

/// Share of a residual, per tick, that goes into the rate.
const BETA: f32 = ALPHA * ALPHA / (2.0 - ALPHA);

/// Jump that noise and rounding can make (K); a faster change must be paid for by slew.
const JUMP_K: f32 = 20.0;

/// A channel's temperature as the core believes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChannelEstimate {
    /// Filtered value.
    pub celsius: Celsius,
    /// Rate (K/s).
    pub rate_k_per_s: f32,
    /// The hottest that it can be by now: value plus age times the furnace's fastest slew.
    pub worst_case: Celsius,
    /// The sensor is at or below its floor, so that `celsius` says "no more than".
    pub is_upper_bound: bool,
}

/// Memory of one channel.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
pub struct Tracker {
    state: Option<TrackerState>,
}

#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "desk", derive(serde::Deserialize))]
struct TrackerState {
    celsius: f32,
    rate_k_per_s: f32,
    unseen_ticks: u16,
}

impl Tracker {
    /// Takes one reading and says what to believe of the channel.
    ///
    /// # Errors
    /// The fault of the reading, or [`SensorFault::Implausible`] for a jump that the furnace
    /// cannot make. The tracker then waits; a channel that is faulty is never believed.
    pub fn update(
        &mut self,
        limits: &Limits,
        reading: Result<Reading, SensorFault>,
    ) -> Result<ChannelEstimate, SensorFault> {
        let reading = reading.inspect_err(|_| self.wait())?;
        let measured = reading.celsius.get();
        let TrackerState { celsius, rate_k_per_s, unseen_ticks } = match self.state {
            None => TrackerState { celsius: measured, rate_k_per_s: 0.0, unseen_ticks: 0 },
            Some(state) => state,
        };
        let predicted = celsius + rate_k_per_s * TICK_S;
        let residual = measured - predicted;
        let ticks = f32::from(unseen_ticks) + 1.0;
        let jump_max = JUMP_K + limits.slew_max_k_per_s * TICK_S * ticks;
        // Written so that a NaN is a jump.
        if !(residual <= jump_max && residual >= -jump_max) {
            self.wait();
            return Err(SensorFault::Implausible);
        }
        let mut state = TrackerState {
            celsius: predicted + ALPHA * residual,
            rate_k_per_s: rate_k_per_s + residual * (BETA / TICK_S),
            unseen_ticks: 0,
        };
        if unseen_ticks > 0 {
            state = seen_again(state, measured, residual);
        }
        self.state = Some(state);
        let age_s = f32::from(reading.age_ms) * 0.001;
        let value = Celsius::new(state.celsius).ok_or(SensorFault::Implausible)?;
        let worst = Celsius::new(state.celsius + age_s * limits.slew_max_k_per_s)
            .ok_or(SensorFault::Implausible)?;
        Ok(ChannelEstimate {
            celsius: value,
            rate_k_per_s: state.rate_k_per_s,
            worst_case: worst,
            is_upper_bound: reading.is_upper_bound,
        })
    }

    /// Keeps what was last believed. Following the last rate would lead away for ever once the
    /// rate was wrong; so the reading is within reach again after as long as the furnace takes.
    fn wait(&mut self) {
        if let Some(state) = &mut self.state {
            state.unseen_ticks = state.unseen_ticks.saturating_add(1);
        }
    }
}

/// The state of a channel that was not seen for a while. Far from where it was it is a new
/// beginning: to filter that would make a rate of it that no furnace has, and the next reading a
/// jump.
#[cold]
fn seen_again(filtered: TrackerState, measured: f32, residual: f32) -> TrackerState {
    if residual.abs() > JUMP_K {
        TrackerState { celsius: measured, rate_k_per_s: 0.0, unseen_ticks: 0 }
    } else {
        filtered
    }
}

/// What the core believes of both channels in one tick.
#[derive(Clone, Copy, Debug)]
pub struct Estimate {
    /// The channel that the control follows.
    pub control: Result<ChannelEstimate, SensorFault>,
    /// The independent limit channel.
    pub limit: Result<ChannelEstimate, SensorFault>,
}

impl Estimate {
    /// Both channels are believed and no further apart than `max_k` (K). A channel at its floor
    /// says only "no hotter than".
    pub fn agrees(&self, max_k: f32) -> bool {
        let (Ok(control), Ok(limit)) = (&self.control, &self.limit) else { return false };
        let apart = limit.celsius.get() - control.celsius.get();
        (limit.is_upper_bound || apart <= max_k) && (control.is_upper_bound || apart >= -max_k)
    }

    /// The hottest that either channel can be by now (°C); `None` unless both are believed.
    pub fn hottest_c(&self) -> Option<f32> {
        let (Ok(control), Ok(limit)) = (&self.control, &self.limit) else { return None };
        Some(control.worst_case.get().max(limit.worst_case.get()))
    }
}
