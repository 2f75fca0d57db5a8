//! Filtered value, rate, and the worst case for the age of a reading.
//!
//! An alpha-beta tracker. Unlike a low-pass it follows a steady ramp without lag, and its residual
//! exposes a jump that no thermal mass can make. Gains by the critically damped relation of
//! T. R. Benedict and G. W. Bordner, "Synthesis of an optimal set of radar track-while-scan
//! smoothing equations", IRE Trans. Automatic Control 7 (1962) 27: β = α² / (2 − α).

use serde::{Deserialize, Serialize};

use crate::TICK_S;
use crate::furnace::Limits;
use crate::sensors::{Reading, SensorFault};
use crate::units::Celsius;

/// Share of the residual that corrects the value.
const ALPHA: f32 = 0.2;

/// Share of the residual, per tick, that corrects the rate.
const BETA: f32 = ALPHA * ALPHA / (2.0 - ALPHA);

/// Largest jump between two readings that noise can explain (K); anything beyond must stay within
/// the furnace's slew limit.
const JUMP_K: f32 = 20.0;

/// The estimate of one channel in one tick. It exists only while the channel is valid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChannelEstimate {
    /// Filtered value.
    pub celsius: Celsius,
    /// Rate (K/s).
    pub rate_k_per_s: f32,
    /// Maximum temperature by now: the value plus the reading's age times the slew limit.
    pub worst_case: Celsius,
    /// The sensor is below its range, so that `celsius` is only an upper bound.
    pub is_upper_bound: bool,
}

/// The tracker of one channel.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct Tracker {
    state: Option<TrackerState>,
}

#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
struct TrackerState {
    celsius: f32,
    rate_k_per_s: f32,
    missed_ticks: u16,
}

impl Tracker {
    /// Updates the estimate with one reading.
    ///
    /// # Errors
    /// The fault of the reading, or [`SensorFault::Implausible`] for a jump that the furnace
    /// cannot make. A faulty channel has no estimate; the tracker keeps its last value.
    pub fn update(
        &mut self,
        limits: &Limits,
        reading: Result<Reading, SensorFault>,
    ) -> Result<ChannelEstimate, SensorFault> {
        let reading = reading.inspect_err(|_| self.note_missed_reading())?;
        let measured = reading.celsius.get();
        let TrackerState { celsius, rate_k_per_s, missed_ticks } = match self.state {
            None => TrackerState { celsius: measured, rate_k_per_s: 0.0, missed_ticks: 0 },
            Some(state) => state,
        };
        let predicted = celsius + rate_k_per_s * TICK_S;
        let residual = measured - predicted;
        let ticks = f32::from(missed_ticks) + 1.0;
        let jump_max = JUMP_K + limits.slew_max_k_per_s * TICK_S * ticks;
        // Written so that a NaN counts as a jump.
        if !(residual <= jump_max && residual >= -jump_max) {
            self.note_missed_reading();
            return Err(SensorFault::Implausible);
        }
        let mut state = TrackerState {
            celsius: predicted + ALPHA * residual,
            rate_k_per_s: rate_k_per_s + residual * (BETA / TICK_S),
            missed_ticks: 0,
        };
        if missed_ticks > 0 {
            state = state_after_gap(state, measured, residual);
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

    /// Keeps the last value over a missed reading. It does not extrapolate: with a wrong rate the
    /// value would drift away for ever, whereas the allowed jump grows with every missed tick, so
    /// that a real reading is accepted again once the furnace can have got there.
    fn note_missed_reading(&mut self) {
        if let Some(state) = &mut self.state {
            state.missed_ticks = state.missed_ticks.saturating_add(1);
        }
    }
}

/// The state after missed readings. A reading far from the last value restarts the tracker:
/// filtering it would produce an impossible rate and make the next reading look like a jump.
#[cold]
fn state_after_gap(filtered: TrackerState, measured: f32, residual: f32) -> TrackerState {
    if residual.abs() > JUMP_K {
        TrackerState { celsius: measured, rate_k_per_s: 0.0, missed_ticks: 0 }
    } else {
        filtered
    }
}

/// One of the two thermocouple channels. Links and logs carry the variant's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Channel {
    /// The channel that the control follows.
    Control,
    /// The independent limit channel.
    Limit,
}

/// The estimates of both channels in one tick.
#[derive(Clone, Copy, Debug)]
pub struct Estimate {
    /// The control channel.
    pub control: Result<ChannelEstimate, SensorFault>,
    /// The independent limit channel.
    pub limit: Result<ChannelEstimate, SensorFault>,
}

impl Estimate {
    /// True if both channels are valid and differ by no more than `max_k` (K). An upper bound that
    /// lies above the other channel is no difference; one that lies below it is.
    pub fn agrees(&self, max_k: f32) -> bool {
        let (Ok(control), Ok(limit)) = (&self.control, &self.limit) else { return false };
        let difference = limit.celsius.get() - control.celsius.get();
        (limit.is_upper_bound || difference <= max_k)
            && (control.is_upper_bound || difference >= -max_k)
    }

    /// Maximum worst-case temperature of the two channels (°C); `None` unless both are valid.
    pub fn worst_case_max_c(&self) -> Option<f32> {
        let (Ok(control), Ok(limit)) = (&self.control, &self.limit) else { return None };
        Some(control.worst_case.get().max(limit.worst_case.get()))
    }
}
