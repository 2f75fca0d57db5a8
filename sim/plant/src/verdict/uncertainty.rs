//! Confidence that an infiltration succeeds, from the standard deviations of its inputs.
//!
//! Depth squared is a product, so the variances of the logarithms add up, and the probability is
//! that of a normal variable. A small relative deviation is used as the deviation of the logarithm.
//! The largest component, the pore radius, belongs to an effective, fitted value: see
//! `piece/infiltration.rs`.

use super::limits::DOMINANT_SHARE;
use crate::spec::{BodySpec, CoatSpec, UncertainValue};

/// Relative standard deviation of the tortuosity from batch to batch. To calibrate.
const TORTUOSITY_SD: f64 = 0.05;
/// Standard deviation of the contact angle (degrees). To calibrate.
const CONTACT_ANGLE_SD_DEG: f64 = 10.0;
/// Relative standard deviation of the porosity. To calibrate.
const POROSITY_SD: f64 = 0.05;
/// Relative standard deviation of the computed difference between sensor and piece:
/// emissivities are known to about 30 % (value from memory).
const GAP_SD: f64 = 0.3;

/// A source of uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UncertaintySource {
    /// The effective pore radius, a fitted value.
    PoreRadius,
    /// The tortuosity.
    Tortuosity,
    /// The contact angle.
    ContactAngle,
    /// The viscosity of the glass.
    Viscosity,
    /// The tolerance of the control sensor.
    Sensor,
    /// The computed difference between sensor and piece.
    SensorToPiece,
    /// The thickness of the wall.
    Wall,
}

impl UncertaintySource {
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::PoreRadius => "the pore radius",
            Self::Tortuosity => "the tortuosity of the pores",
            Self::ContactAngle => "the contact angle",
            Self::Viscosity => "the viscosity of the glass",
            Self::Sensor => "the tolerance of the sensor",
            Self::SensorToPiece => "the difference between sensor and piece",
            Self::Wall => "the wall thickness",
        }
    }
}

/// The contribution of one source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UncertaintyComponent {
    /// The source.
    pub source: UncertaintySource,
    /// Standard deviation of the logarithm of depth squared over wall squared.
    pub ln_sd: f64,
    /// Share of the whole variance.
    pub share: f64,
}

/// The uncertainty of the infiltration depth, split into its components.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UncertaintyBudget {
    /// Probability that the front gets through the wall.
    pub probability: f64,
    /// Standard deviation of the logarithm of depth squared over wall squared.
    pub ln_sd: f64,
    /// The components, the largest first.
    pub components: [UncertaintyComponent; 7],
}

/// How temperature errors enter the uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TemperatureUncertainty {
    /// Relative change of the flow per kelvin (1/K).
    pub(super) flow_per_k: f64,
    /// Error limits of the sensor (K).
    pub(super) tolerance_k: f64,
    /// Sensor minus piece (K).
    pub(super) gap_k: f64,
}

impl UncertaintyBudget {
    /// For a predicted depth of `ln_ratio = ln(depth² / wall²)`.
    pub(super) fn of(
        ln_ratio: f64,
        body: &BodySpec,
        coat: &CoatSpec,
        wall: UncertainValue,
        heat: TemperatureUncertainty,
    ) -> Self {
        let angle = coat.glass.contact_angle_deg.to_radians();
        // Limits without a known distribution are taken as rectangular: JCGM 100:2008, 4.3.7.
        let sensor_sd = heat.tolerance_k / 3.0_f64.sqrt();
        let sds = [
            (UncertaintySource::PoreRadius, body.pore_radius_m.relative_sd()),
            (UncertaintySource::Tortuosity, 2.0 * TORTUOSITY_SD),
            (
                UncertaintySource::ContactAngle,
                libm::tan(angle) * CONTACT_ANGLE_SD_DEG.to_radians(),
            ),
            (UncertaintySource::Viscosity, core::f64::consts::LN_10 * coat.glass.log10_sd),
            (UncertaintySource::Sensor, heat.flow_per_k * sensor_sd),
            (UncertaintySource::SensorToPiece, heat.flow_per_k * GAP_SD * heat.gap_k.abs()),
            (UncertaintySource::Wall, 2.0 * wall.relative_sd()),
        ];
        let variance: f64 = sds.iter().map(|(_, sd)| sd * sd).sum();
        let mut components = sds.map(|(source, ln_sd)| {
            let share = if variance > 0.0 { ln_sd * ln_sd / variance } else { 0.0 };
            UncertaintyComponent { source, ln_sd, share }
        });
        components.sort_by(|a, b| b.share.total_cmp(&a.share));
        let ln_sd = variance.sqrt();
        Self { probability: above_zero(ln_ratio, ln_sd), ln_sd, components }
    }

    /// The largest component, if it makes up most of the uncertainty and the user can measure it.
    pub(super) fn dominant_input(&self) -> Option<UncertaintyComponent> {
        let [largest, ..] = self.components;
        let measurable =
            matches!(largest.source, UncertaintySource::Wall | UncertaintySource::Sensor);
        (measurable && largest.share >= DOMINANT_SHARE).then_some(largest)
    }
}

/// Probability that the coat's glass fills the pores.
pub(super) fn budget(ratio: f64, coat: &CoatSpec, wall: UncertainValue) -> f64 {
    let sds = [coat.thickness_m.relative_sd(), wall.relative_sd(), POROSITY_SD];
    let ln_sd = sds.iter().map(|sd| sd * sd).sum::<f64>().sqrt();
    above_zero(libm::log(ratio), ln_sd)
}

/// Probability that a normal variable with this mean and deviation is above zero.
fn above_zero(mean: f64, sd: f64) -> f64 {
    if sd > 0.0 {
        0.5 * (1.0 + libm::erf(mean / (sd * core::f64::consts::SQRT_2)))
    } else if mean >= 0.0 {
        1.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_probability_is_that_of_a_normal_variable() {
        // Tabulated: 90 % at 1.2816 deviations.
        assert!((above_zero(1.281_551_565_544_6, 1.0) - 0.9).abs() < 1e-9);
        // Tabulated: 97.725 % at two deviations, half at none.
        assert!((above_zero(0.6, 0.3) - 0.977_249_868).abs() < 1e-8);
        assert!((above_zero(0.0, 0.4) - 0.5).abs() < 1e-12);
        assert!(above_zero(1e-9, 0.0) > 0.5 && above_zero(-1e-9, 0.0) < 0.5);
    }
}
