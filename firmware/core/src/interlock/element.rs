//! The heating element as the interlock sees it: how much heat it gives to the muffle, from the commands
//! and the reading alone.

use serde::Serialize;

use crate::furnace::Heater;

/// Time between two steps (s).
const STEP_S: f32 = 1.0;

/// A lumped element that radiates to a muffle of the temperature of the reading.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct Element {
    /// Its temperature (°C); `None` before the first step.
    celsius: Option<f32>,
}

impl Element {
    /// Advances by a second in which the heater had this duty; returns the heat that flows from the
    /// element to the muffle at its end (W). Before the first step it gave off `first_w`: after a power cut
    /// it may still be hot.
    pub(super) fn step(
        &mut self,
        heater: &Heater,
        duty: f32,
        reading_c: f32,
        first_w: impl FnOnce() -> f32,
    ) -> f32 {
        let stored = &heater.stored_heat;
        let before_c = self.celsius.unwrap_or_else(|| stored.element_c(reading_c, first_w()));
        let power_w = duty * heater.rated_w;
        let celsius = stored.element_after(before_c, reading_c, power_w, STEP_S);
        self.celsius = Some(celsius);
        stored.radiated_w(celsius, reading_c)
    }
}
