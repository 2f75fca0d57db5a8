//! Estimate of the heating element's temperature, which no sensor measures.

use serde::Serialize;

use crate::TICK_S;
use crate::furnace::Heater;

/// Ticks between two updates: 1 s. The element's time constant is seconds when hot and a quarter of an
/// hour when cold.
const UPDATE_TICKS: u8 = 10;

/// Estimate from the power that was applied and from the radiation to a chamber at the reading.
#[derive(Clone, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct ElementEstimate {
    /// `None` before the first reading.
    celsius: Option<f32>,
    /// Sum of the applied duties since the last update.
    duty_sum: f32,
    ticks: u8,
}

impl ElementEstimate {
    /// Adds one tick with the duty that was applied in it. Returns true once a second, when the
    /// estimate is new.
    pub(super) fn update(
        &mut self,
        heater: &Heater,
        reading_c: Option<f32>,
        applied_duty: f32,
    ) -> bool {
        self.duty_sum += applied_duty;
        self.ticks = self.ticks.saturating_add(1);
        if self.ticks < UPDATE_TICKS {
            return false;
        }
        let applied_w = self.duty_sum / f32::from(UPDATE_TICKS) * heater.rated_w;
        (self.ticks, self.duty_sum) = (0, 0.0);
        // Without a reading nothing heats, and the old estimate is the higher one.
        let Some(reading_c) = reading_c else { return true };
        let before_c = self.celsius_or(reading_c);
        let step_s = f32::from(UPDATE_TICKS) * TICK_S;
        let next_c = heater.stored_heat.element_after(before_c, reading_c, applied_w, step_s);
        self.celsius = Some(if next_c.is_finite() { next_c } else { reading_c });
        true
    }

    /// The estimate (°C); the reading before there is one.
    pub(super) fn celsius_or(&self, reading_c: f32) -> f32 {
        self.celsius.unwrap_or(reading_c)
    }
}
