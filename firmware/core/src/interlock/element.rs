//! The heating element as the interlock sees it: how much heat it gives to the muffle, from the commands
//! and the reading alone.

use serde::Serialize;

use crate::furnace::Heater;

/// 0 °C (K).
const KELVIN: f32 = 273.15;

/// A lumped element that radiates to a muffle of the temperature of the reading.
#[derive(Clone, Copy, Debug, Default, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub(super) struct Element {
    /// Its temperature (K); `None` before the first reading, where it counts as hot as the muffle.
    kelvin: Option<f32>,
}

impl Element {
    /// Advances by a second in which the heater had this duty; returns the heat that flows from the
    /// element to the muffle at its end (W). One implicit step, which is stable for every mass.
    pub(super) fn step(&mut self, heater: &Heater, duty: f32, reading_c: f32) -> f32 {
        let stored = &heater.stored_heat;
        let muffle_k = reading_c + KELVIN;
        let mut element_k = self.kelvin.unwrap_or(muffle_k);
        let flow_w = |kelvin: f32| stored.element_w_per_k4 * (pow4(kelvin) - pow4(muffle_k));
        let cube = element_k * element_k * element_k;
        let conductance = 4.0 * stored.element_w_per_k4 * cube;
        let surplus_w = duty * heater.rated_w - flow_w(element_k);
        element_k += surplus_w / (stored.element_j_per_k + conductance);
        self.kelvin = Some(element_k);
        flow_w(element_k)
    }
}

fn pow4(kelvin: f32) -> f32 {
    let square = kelvin * kelvin;
    square * square
}
