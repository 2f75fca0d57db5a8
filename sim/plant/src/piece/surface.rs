//! Melt-back of the surface: a blasted glass skin levels under its surface tension.
//!
//! A ripple of wave number `k` on a viscous layer of depth `d` decays at the rate `γ k / (2 η)
//! · (sinh kd cosh kd − kd) / (cosh² kd + (kd)²)` (Orchard, Appl. Sci. Res. A 11
//! (1963) 451; formula and citation from memory). Its two ends are the known ones: `γ k / (2 η)` on deep glass and `γ k⁴ d³ / (3 η)`
//! on a thin film, tested below. The height left is an exponential of `∫ dt/η` with one
//! constant of the work.

use crate::spec::{GlassSpec, WorkSpec};

/// Wavelength of a blasted surface over its depth. To calibrate with a profile gauge.
const WAVELENGTH_PER_DEPTH: f64 = 10.0;

/// Decay of a ripple of wave number `k` (1/m) on glass `depth_m` deep, for one unit of
/// `∫ dt/η` (Pa): `ln(height before / height after) = decay_pa · ∫ dt/η`.
pub fn decay_pa(glass: &GlassSpec, k: f64, depth_m: f64) -> f64 {
    0.5 * glass.surface_tension_n_m * k * depth_factor(k * depth_m)
}

/// Damping by the substrate: 0 for no glass, 1 for deep glass.
fn depth_factor(x: f64) -> f64 {
    if x > 20.0 {
        return 1.0;
    }
    if x < 1e-3 {
        return 2.0 / 3.0 * x * x * x;
    }
    let (sinh, cosh) = (libm::sinh(x), libm::cosh(x));
    (sinh * cosh - x) / (cosh * cosh + x * x)
}

/// The levelling of a piece in a melt-back fire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeltBack {
    decay_pa: f64,
    roughness_m: f64,
}

impl MeltBack {
    /// The levelling of infiltrated work. Its coat states the glass of the skin and the thickness; `None` for
    /// other work, or without a coat.
    pub fn new(work: &WorkSpec) -> Option<Self> {
        let skin = work.coat.as_ref().filter(|_| work.infiltrated)?;
        let depth = skin.thickness_m.value * skin.glass_share;
        let wavelength = WAVELENGTH_PER_DEPTH * work.roughness_m;
        let decay_pa = if wavelength > 0.0 {
            decay_pa(&skin.glass, core::f64::consts::TAU / wavelength, depth)
        } else {
            0.0
        };
        Some(Self { decay_pa, roughness_m: work.roughness_m })
    }

    /// Flow after which the roughness is down to `limit_m` (1/Pa): 0 or less if it is at the start.
    pub fn needed_per_pa(&self, limit_m: f64) -> f64 {
        libm::log(self.roughness_m / limit_m) / self.decay_pa
    }

    /// Roughness left after a flow (m).
    pub fn left_m(&self, per_pa: f64) -> f64 {
        self.roughness_m * libm::exp(-self.decay_pa * per_pa)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levelling_has_the_limits_of_deep_and_thin_glass() {
        let glass = GlassSpec::named("lanthanum-glass").unwrap();
        let (gamma, k) = (glass.surface_tension_n_m, 1.0e5);
        let deep = decay_pa(&glass, k, 1.0e-3);
        assert!((deep / (gamma * k / 2.0) - 1.0).abs() < 1e-9);
        let d = 2.0e-7;
        let thin = decay_pa(&glass, k, d);
        assert!((thin / (gamma * k.powi(4) * d.powi(3) / 3.0) - 1.0).abs() < 1e-3);
        // The series joins without a jump.
        assert!((depth_factor(0.999e-3) / depth_factor(1.001e-3) - 0.994).abs() < 1e-3);
    }
}
