//! Thermal stress in the wall from the temperatures of its layers.
//!
//! A closed coping cannot bend freely, so the stress at a face is that of a wall kept flat: `σ
//! = E α (mean − face) / (1 − ν)`, tension positive. A face hotter than the mean is in compression, a
//! cooler one in tension. The layers are averages over quarters of the wall; a parabola through the
//! three nearest gives the face itself, exactly for the profile of a steady ramp and 3.7 % low
//! for a quench at Biot number 1. Ceramics break in tension, so tension is what the verdict
//! compares with the strength. Relaxation is not modelled: above the softening of the glass
//! the true stress is lower.

use crate::spec::BodySpec;

/// A maximum and its time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peak {
    /// The value.
    pub value: f64,
    /// Time (s).
    pub at_s: f64,
}

impl Peak {
    /// Keeps NaN, so that the verdict fails on it.
    pub(super) fn raise(&mut self, value: f64, at_s: f64) {
        if value > self.value || value.is_nan() {
            *self = Self { value, at_s };
        }
    }
}

/// Largest stresses so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stress {
    /// Stress per kelvin between mean and face (Pa/K).
    pa_per_k: f64,
    /// Tension at a face in the last step (Pa).
    pub tension_now_pa: f64,
    /// Largest tension at a face (Pa).
    pub tension: Peak,
    /// Largest compression at a face (Pa), as a positive number.
    pub compression: Peak,
}

/// Stress at a face that is one kelvin cooler than the mean (Pa/K).
pub fn pa_per_k(body: &BodySpec) -> f64 {
    body.young_pa * body.expansion_per_k / (1.0 - body.poisson)
}

/// The difference between mean and face that breaks the body (K): the thermal shock resistance
/// `σ (1 − ν) / (E α)` for a face that is at once at the temperature of its surroundings.
pub fn resistance_k(body: &BodySpec) -> f64 {
    body.strength_pa / pa_per_k(body)
}

/// Temperatures of the outer and the inner face (°C) from the averages of the layers.
pub fn faces_c(layers_c: &[f64; 4]) -> (f64, f64) {
    let face = |a: f64, b: f64, c: f64| (11.0 * a - 7.0 * b + 2.0 * c) / 6.0;
    let [a, b, c, d] = *layers_c;
    (face(a, b, c), face(d, c, b))
}

impl Stress {
    /// No stress yet.
    pub fn new(body: &BodySpec) -> Self {
        Self {
            pa_per_k: pa_per_k(body),
            tension_now_pa: 0.0,
            tension: Peak::default(),
            compression: Peak::default(),
        }
    }

    pub(super) fn step(&mut self, layers_c: &[f64; 4], mean_c: f64, at_s: f64) {
        let (outer, inner) = faces_c(layers_c);
        self.tension_now_pa = self.pa_per_k * (mean_c - outer.min(inner));
        self.tension.raise(self.tension_now_pa, at_s);
        self.compression.raise(self.pa_per_k * (outer.max(inner) - mean_c), at_s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_even_wall_has_no_stress_and_a_hot_face_is_in_compression() {
        let body = BodySpec::named("alumina").unwrap();
        let mut stress = Stress::new(&body);
        stress.step(&[500.0; 4], 500.0, 1.0);
        assert!(stress.tension.value < 1e-6 && stress.compression.value < 1e-6);
        stress.step(&[510.0, 503.0, 499.0, 496.0], 502.0, 2.0);
        let (outer, inner) = faces_c(&[510.0, 503.0, 499.0, 496.0]);
        assert!(outer > 510.0 && inner < 496.0);
        assert_eq!((stress.tension.at_s, stress.compression.at_s), (2.0, 2.0));
        assert!(stress.compression.value > stress.tension.value);
    }
}
