//! The uncertainty of the infiltration depth of all pieces of a firing.
//!
//! `ln(h²/wall²)` is a sum. The pieces share the errors of the glass, of the fit and of the temperature;
//! each piece has its own wall.

use super::budget::UncertaintyBudget;
use super::distribution::{Distribution, root_sum_of_squares};
use super::promise::{PieceGroup, Promise};
use super::quadrature::{self, Node};
use super::source::UncertaintySource;
use super::wall::WallDemand;
use saggar_plant::spec::{BodySpec, CoatSpec, GlassSpec, WorkSpec};

/// Relative standard deviation of the tortuosity from batch to batch. To calibrate.
pub(crate) const TORTUOSITY_SD: f64 = 0.05;
/// Standard deviation of the contact angle (degrees), whose values stay within 0 to 89. To calibrate.
pub(crate) const CONTACT_ANGLE_SD_DEG: f64 = 10.0;
/// Largest contact angle (degrees).
pub(crate) const CONTACT_ANGLE_MAX_DEG: f64 = 89.0;
/// Standard deviation of the computed temperature of the piece from the true one (K): one path of heat that
/// was missing, to the table below, made 6 K. To calibrate with a thermocouple in a piece.
const PIECE_SD_K: f64 = 4.0;

/// The flow of glass into pieces at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlaceFlow {
    /// Pieces there.
    pub(crate) count: u32,
    /// `ln(h²/wall²)` by the best estimates.
    pub(crate) ln_ratio: f64,
    /// Mean logarithm of the fluidity over the one at the temperature of the fit.
    pub(crate) ln_over_fit: f64,
    /// Relative change of the flow per kelvin (1/K).
    pub(crate) per_k: f64,
}

/// The uncertainty of the depth, for a work and a sensor.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct DepthUncertainty {
    /// Standard deviations that no firing changes.
    constant_sds: Vec<(UncertaintySource, f64)>,
    promise: Promise,
    /// Error limits of the sensor (K).
    sensor: Distribution,
    /// Errors of the temperature (K).
    temperature: [Node; 3],
    /// True activation energy over that of the glass's formula.
    activation: Vec<Node>,
}

impl DepthUncertainty {
    /// For a sensor with these error limits (K).
    pub(crate) fn new(work: &WorkSpec, coat: &CoatSpec, sensor_k: f64) -> Self {
        let (angle, wall) = (contact_angle(&coat.glass), WallDemand::of(work));
        let fit = fit_sds(&work.body, &coat.glass);
        let tortuosity_sd = 2.0 * TORTUOSITY_SD;
        let normal_sd = root_sum_of_squares(fit.iter().map(|(_, sd)| *sd)).hypot(tortuosity_sd);
        let shared = angle.plus(&Distribution::normal(normal_sd));
        let others = [
            (UncertaintySource::Tortuosity, tortuosity_sd),
            (UncertaintySource::ContactAngle, angle.sd()),
            (UncertaintySource::Wall, wall.between_sd),
            (UncertaintySource::Unevenness, wall.thickest.sd()),
        ];
        Self {
            constant_sds: fit.into_iter().chain(others).collect(),
            promise: Promise::new(&shared, &wall.whole()),
            sensor: Distribution::rectangular(sensor_k),
            temperature: temperature_errors(sensor_k),
            activation: activation_factors(coat.glass.activation_error),
        }
    }

    /// The same if the pieces are colder than computed by this (K). It is a known error with a direction, so
    /// it moves the temperature and does not widen it.
    pub(crate) fn of_colder_pieces(self, colder_k: f64) -> Self {
        let temperature = self.temperature.map(|node| Node { at: node.at - colder_k, ..node });
        Self { temperature, ..self }
    }

    /// Probability that the front gets through every spot of every piece.
    pub(crate) fn probability(&self, places: &[PlaceFlow]) -> f64 {
        let per_k = least(places).map_or(0.0, |place| place.per_k);
        let with = |factor: f64| {
            let group = |place: &PlaceFlow| PieceGroup {
                count: place.count,
                reserve: place.ln_ratio + (factor - 1.0) * place.ln_over_fit,
            };
            let errors = self.temperature.map(|k| Node { at: factor * per_k * k.at, ..k });
            self.promise.kept(&places.iter().map(group).collect::<Vec<_>>(), &errors)
        };
        self.activation.iter().map(|factor| factor.weight * with(factor.at)).sum()
    }

    /// The probability for all pieces, and the components for a piece at the place with the least flow.
    pub(crate) fn budget(&self, places: &[PlaceFlow]) -> UncertaintyBudget {
        let (over_fit, per_k) =
            least(places).map_or((0.0, 0.0), |place| (place.ln_over_fit, place.per_k));
        let moment = |of: fn(f64) -> f64| -> f64 {
            self.activation.iter().map(|factor| factor.weight * of(factor.at)).sum()
        };
        let (mean, square) = (moment(|factor| factor), moment(|factor| factor * factor));
        let per_k = per_k * square.sqrt();
        let firing = [
            (
                UncertaintySource::TemperatureDependence,
                over_fit.abs() * (square - mean * mean).max(0.0).sqrt(),
            ),
            (UncertaintySource::Sensor, per_k * self.sensor.sd()),
            (UncertaintySource::PieceTemperature, per_k * PIECE_SD_K),
        ];
        let sds = self.constant_sds.iter().copied().chain(firing);
        UncertaintyBudget::new(self.probability(places), sds)
    }
}

/// The place with the least flow.
fn least(places: &[PlaceFlow]) -> Option<&PlaceFlow> {
    places.iter().min_by(|a, b| a.ln_ratio.total_cmp(&b.ln_ratio))
}

/// Radius and viscosity, whose errors a fit may tie together.
fn fit_sds(body: &BodySpec, glass: &GlassSpec) -> Vec<(UncertaintySource, f64)> {
    let radius = body.pore_radius_m.relative_sd();
    let viscosity = core::f64::consts::LN_10 * glass.log10_sd;
    let tie = body.radius_viscosity_correlation;
    if tie.abs() > 0.0 {
        // Depth depends on the ratio, so errors in the same direction cancel: JCGM 100:2008, 5.2.2.
        let variance = radius * radius + viscosity * viscosity - 2.0 * tie * radius * viscosity;
        return vec![(UncertaintySource::RadiusOverViscosity, variance.max(0.0).sqrt())];
    }
    vec![(UncertaintySource::PoreRadius, radius), (UncertaintySource::Viscosity, viscosity)]
}

/// `ln cos θ` of the true contact angle over that of the best estimate.
fn contact_angle(glass: &GlassSpec) -> Distribution {
    let (estimate, sd) = (glass.contact_angle_deg, CONTACT_ANGLE_SD_DEG);
    let ln_cos = |degrees: f64| libm::log(libm::cos(degrees.to_radians()));
    Distribution::of_density(
        (estimate - 5.0 * sd).max(0.0),
        (estimate + 5.0 * sd).min(CONTACT_ANGLE_MAX_DEG),
        |degrees| libm::exp(-0.5 * ((degrees - estimate) / sd) * ((degrees - estimate) / sd)),
        |degrees| ln_cos(degrees) - ln_cos(estimate),
    )
}

/// Errors of the temperature of the piece (K): the sensor's, within its limits, and those of the computed
/// difference between sensor and piece.
fn temperature_errors(sensor_k: f64) -> [Node; 3] {
    let (limit, sd) = (sensor_k * sensor_k, PIECE_SD_K * PIECE_SD_K);
    let second = limit / 3.0 + sd;
    let fourth = limit * limit / 5.0 + 2.0 * limit * sd + 3.0 * sd * sd;
    quadrature::three_nodes(second, fourth)
}

/// Factors on the activation energy: the logarithm has limits, see [`GlassSpec::activation_error`].
fn activation_factors(limit: f64) -> Vec<Node> {
    quadrature::eight_nodes(-1.0, 1.0)
        .map(|node| Node { at: libm::exp(limit * node.at), weight: 0.5 * node.weight })
        .collect()
}
