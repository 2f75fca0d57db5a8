//! The heat that is stored in the element and flows on into the chamber after the heater is off.
//!
//! A furnace can only be heated. Below some 300 °C an element radiates little, so that it has to be far
//! hotter than the chamber to drive a ramp, and what it stores then would carry the chamber past a low
//! soak. These formulas say how far.

use serde::{Deserialize, Serialize};

/// 0 °C (K).
const KELVIN: f32 = 273.15;

/// What decides how much heat flows on into the chamber after the heater is off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StoredHeat {
    /// Heat capacity of the heating element (J/K).
    pub element_j_per_k: f32,
    /// Radiation of the element to what it surrounds: area times effective emissivity times the
    /// Stefan-Boltzmann constant (W/K⁴).
    pub element_w_per_k4: f32,
    /// Heat capacity of the muffle (J/K).
    pub muffle_j_per_k: f32,
}

/// How the reading goes on rising once the heater is off.
///
/// The power from the element decays with a time constant, and the furnace cools at its own rate. The
/// default is a furnace that stores nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "restore", derive(Deserialize))]
pub struct Coast {
    /// Time constant with which the element gives off its heat (s).
    pub decay_s: f32,
    /// Rate at which the furnace cools without heat (K/s).
    pub cooling_k_per_s: f32,
}

impl StoredHeat {
    /// Power that an element at `element_c` radiates to surroundings at `around_c` (W).
    pub fn radiated_w(&self, element_c: f32, around_c: f32) -> f32 {
        self.element_w_per_k4 * (fourth_power(element_c) - fourth_power(around_c))
    }

    /// Change of [`Self::radiated_w`] per kelvin of the element's temperature (W/K).
    pub fn radiated_w_per_k(&self, element_c: f32) -> f32 {
        let kelvin = element_c + KELVIN;
        4.0 * self.element_w_per_k4 * kelvin * kelvin * kelvin
    }

    /// Temperature at which the element radiates `watt` to surroundings at `around_c` (°C).
    pub fn element_c(&self, around_c: f32, watt: f32) -> f32 {
        let fourth = fourth_power(around_c) + watt.max(0.0) / self.element_w_per_k4;
        libm::sqrtf(libm::sqrtf(fourth)) - KELVIN
    }

    /// Temperature of an element at `element_c` after `step_s` seconds in which it took `power_w` and radiated
    /// to surroundings at `around_c` (°C): one step of the implicit Euler method, which is stable for an
    /// element of any mass.
    pub fn element_after(
        &self,
        element_c: f32,
        around_c: f32,
        power_w: f32,
        step_s: f32,
    ) -> f32 {
        let surplus_w = power_w - self.radiated_w(element_c, around_c);
        let inertia = self.element_j_per_k + step_s * self.radiated_w_per_k(element_c);
        element_c + step_s * surplus_w / inertia
    }

    /// How the reading goes on once the heater is off, with the element at `element_c`, a chamber of
    /// `chamber_j_per_k` at `around_c` (°C), and `hold_w` as the power that would keep it there.
    pub fn coast(
        &self,
        element_c: f32,
        around_c: f32,
        chamber_j_per_k: f32,
        hold_w: f32,
    ) -> Coast {
        let (hot, cold) = (element_c + KELVIN, around_c + KELVIN);
        let w_per_k = self.element_w_per_k4 * (hot * hot + cold * cold) * (hot + cold);
        let both = self.element_j_per_k + chamber_j_per_k;
        Coast {
            decay_s: self.element_j_per_k * chamber_j_per_k / (both * w_per_k),
            cooling_k_per_s: hold_w / chamber_j_per_k,
        }
    }
}

// From dT/dt = (v + c) e^(−t/τ) − c with the rate v at the moment the heater goes off, the time constant
// τ and the cooling c: T rises by τ (v − c ln(1 + v/c)), which is at most τ v² / (v + 2c).
impl Coast {
    /// True if a reading that rises at `rate` (K/s) would rise by `rise_k` or more.
    pub fn reaches(&self, rate: f32, rise_k: f32) -> bool {
        self.decay_s * rate * rate >= (rate + 2.0 * self.cooling_k_per_s) * rise_k
    }

    /// How far a reading that rises at `rate` (K/s) would rise at most (K).
    pub fn rise_k(&self, rate: f32) -> f32 {
        let rate = rate.max(0.0);
        let rise_k = self.decay_s * rate * rate / (rate + 2.0 * self.cooling_k_per_s);
        if rise_k.is_finite() { rise_k } else { 0.0 }
    }

    /// Maximum rate from which the reading rises by no more than `rise_k` (K/s).
    pub fn rate_limit(&self, rise_k: f32) -> f32 {
        let rise_k = rise_k.max(0.0);
        let square = rise_k * (rise_k + 8.0 * self.cooling_k_per_s * self.decay_s);
        (rise_k + libm::sqrtf(square)) / (2.0 * self.decay_s)
    }
}

fn fourth_power(celsius: f32) -> f32 {
    let square = (celsius + KELVIN) * (celsius + KELVIN);
    square * square
}
