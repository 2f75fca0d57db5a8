//! The confidence against draws of all its inputs, against closed forms, and at its limits.

use rand_core::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

use super::*;
use saggar_plant::spec::UncertainValue;

/// Draws for each figure: one standard deviation is at most 0.11 points.
const DRAWS: u32 = 200_000;

/// Variables of known shapes.
struct Draws(Xoshiro256PlusPlus);

impl Draws {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Box and Muller.
    fn normal(&mut self, sd: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.between(0.0, 1.0)).ln()).sqrt();
        sd * radius * self.between(0.0, core::f64::consts::TAU).cos()
    }

    fn angle(&mut self, estimate: f64) -> f64 {
        loop {
            let angle = estimate + self.normal(10.0);
            if (0.0..=89.0).contains(&angle) {
                return angle;
            }
        }
    }
}

/// A case for both ways of computing.
#[derive(Clone)]
struct Case {
    work: WorkSpec,
    sensor_k: f64,
    places: Vec<PlaceFlow>,
}

/// A piece of 225 mm², nine spots, at 1115 °C after a fit at 1120 °C.
fn case(ln_ratio: f64) -> Case {
    let work = WorkSpec {
        wall_m: UncertainValue::relative(0.5e-3, 0.1),
        wall_within_m: 0.025e-3,
        area_m2: 2.25e-4,
        ..WorkSpec::coated_coping()
    };
    let place = PlaceFlow { count: 1, ln_ratio, ln_over_fit: -0.07, per_k: 0.0144 };
    Case { work, sensor_k: 2.8, places: vec![place] }
}

impl Case {
    fn coat(&mut self) -> &mut CoatSpec {
        self.work.coat.as_mut().unwrap()
    }

    fn uncertainty(&self) -> DepthUncertainty {
        DepthUncertainty::new(&self.work, self.work.coat.as_ref().unwrap(), self.sensor_k)
    }

    fn computed(&self) -> f64 {
        self.uncertainty().probability(&self.places)
    }

    fn drawn(&self) -> f64 {
        let mut draws = Draws(Xoshiro256PlusPlus::seed_from_u64(12));
        let filled = (0..DRAWS).filter(|_| self.is_filled(&mut draws)).count();
        filled as f64 / f64::from(DRAWS)
    }

    fn is_filled(&self, draws: &mut Draws) -> bool {
        let (body, coat) = (&self.work.body, self.work.coat.as_ref().unwrap());
        let tie = body.radius_viscosity_correlation;
        let (a, b) = (draws.normal(1.0), draws.normal(1.0));
        let ln_radius = body.pore_radius_m.relative_sd() * a;
        let viscosity_sd = coat.glass.log10_sd * 10.0_f64.ln();
        let ln_viscosity = viscosity_sd * (tie * a + (1.0 - tie * tie).sqrt() * b);
        let ln_tortuosity = draws.normal(0.05);
        let estimate = coat.glass.contact_angle_deg;
        let cosine = draws.angle(estimate).to_radians().cos() / estimate.to_radians().cos();
        let shared = ln_radius - ln_viscosity - 2.0 * ln_tortuosity + cosine.ln();
        let kelvin = draws.between(-self.sensor_k, self.sensor_k) + draws.normal(4.0);
        let limit = coat.glass.activation_error;
        let steeper = draws.between(-limit, limit).exp();
        let per_k = self.places[0].per_k;
        let spots = (self.work.area_m2 / 25.0e-6).round() as u32;
        let within = self.work.wall_within_m / self.work.wall_m.value;
        self.places.iter().all(|place| {
            let flow = place.ln_ratio + (steeper - 1.0) * place.ln_over_fit;
            let depth = flow + steeper * per_k * kelvin + shared;
            (0..place.count).all(|_| {
                let mean = draws.normal(self.work.wall_m.relative_sd());
                (0..spots).all(|_| depth >= 2.0 * (mean + draws.normal(within)))
            })
        })
    }

    fn agrees(&self, name: &str) {
        let (computed, drawn) = (self.computed(), self.drawn());
        assert!((computed - drawn).abs() < 0.01, "{name}: {computed} against {drawn} drawn");
        println!("{name}: {computed:.4} computed, {drawn:.4} drawn");
    }
}

#[test]
fn one_piece_agrees_with_draws() {
    for ln_ratio in [0.3, 0.8, 1.4] {
        case(ln_ratio).agrees(&format!("one piece, {ln_ratio}"));
    }
}

#[test]
fn five_pieces_in_two_rings_agree_with_draws() {
    for ln_ratio in [0.5, 1.0, 1.5] {
        let mut five = case(ln_ratio);
        five.places[0].count = 2;
        let place = PlaceFlow { count: 3, ln_ratio: ln_ratio - 0.12, ..five.places[0] };
        five.places.push(PlaceFlow { ln_over_fit: -0.18, ..place });
        five.agrees(&format!("five pieces, {ln_ratio}"));
    }
}

#[test]
fn other_works_agree_with_draws() {
    let mut tied = case(0.8);
    tied.work.body.radius_viscosity_correlation = 0.8;
    tied.agrees("radius and viscosity tied");
    let mut wide = case(1.2);
    wide.coat().glass.log10_sd = 0.5;
    wide.agrees("wide viscosity");
    let mut cold = case(1.2);
    cold.places[0].ln_over_fit = -0.8;
    cold.agrees("50 K below the fit");
    let mut poor = case(1.2);
    (poor.sensor_k, poor.coat().glass.contact_angle_deg) = (8.4, 75.0);
    poor.agrees("a poor sensor and poor wetting");
    let mut known = case(0.4);
    known.work.body.pore_radius_m = UncertainValue::relative(1.0e-7, 0.0);
    known.coat().glass.log10_sd = 0.0;
    known.agrees("glass and radius exactly known");
    let mut uneven = case(2.5);
    uneven.work.wall_m = UncertainValue::relative(0.5e-3, 0.5);
    uneven.work.wall_within_m = 0.15e-3;
    uneven.places[0].count = 4;
    uneven.agrees("walls of all sizes");
}

#[test]
fn without_shapes_it_is_the_closed_form() {
    // One exact piece, and a glass with exact wetting and temperature dependence: the old formula, with the
    // components 0.30, 0.23026, 0.10 and 0.0144 times the deviation of the temperature.
    let mut exact = case(0.5);
    exact.work.wall_m = UncertainValue::relative(0.5e-3, 0.0);
    exact.work.wall_within_m = 0.0;
    exact.coat().glass.activation_error = 0.0;
    exact.coat().glass.contact_angle_deg = 0.0;
    exact.sensor_k = 0.0;
    let normal_sd = root_sum_of_squares([0.30, 0.230_258_5, 0.10, 0.0144 * 4.0]);
    let half_normal = |x: f64| {
        // Wetting at 0°: the positive half of a normal angle, by the midpoint rule.
        let steps = (0..2000).map(|i| (f64::from(i) + 0.5) * 0.025);
        let all: f64 = steps.clone().map(|angle| (-0.5 * (angle / 10.0).powi(2)).exp()).sum();
        let part = |angle: f64| {
            let reserve = x + angle.to_radians().cos().ln();
            (-0.5 * (angle / 10.0_f64).powi(2)).exp() / all
                * distribution::normal_cdf(reserve, normal_sd)
        };
        steps.map(part).sum::<f64>()
    };
    for ln_ratio in [-0.3, 0.0, 0.5, 0.9] {
        exact.places[0].ln_ratio = ln_ratio;
        let (found, expected) = (exact.computed(), half_normal(ln_ratio));
        assert!((found - expected).abs() < 1e-3, "{ln_ratio}: {found} {expected}");
    }
}

#[test]
fn more_pieces_and_worse_inputs_lower_the_confidence() {
    let base = case(0.9);
    let falls = |name: &str, change: &dyn Fn(&mut Case, f64)| {
        let mut last = 1.0;
        for step in 0..6_u32 {
            let mut changed = base.clone();
            change(&mut changed, f64::from(step));
            let now = changed.computed();
            assert!(now < last, "{name}, {step}: {now} after {last}");
            last = now;
        }
    };
    falls("count", &|case, x| case.places[0].count = 1 + x as u32);
    falls("area", &|case, x| case.work.area_m2 *= 1.0 + x);
    falls("wall", &|case, x| {
        case.work.wall_m = UncertainValue::relative(0.5e-3, 0.04 * x);
    });
    falls("unevenness", &|case, x| case.work.wall_within_m = 0.01e-3 * x);
    falls("radius", &|case, x| {
        case.work.body.pore_radius_m = UncertainValue::relative(1.0e-7, 0.1 * x);
    });
    falls("viscosity", &|case, x| case.coat().glass.log10_sd = 0.06 * x);
    falls("sensor", &|case, x| case.sensor_k = 3.0 * x);
    falls("activation", &|case, x| case.coat().glass.activation_error = 0.3 * x);
    falls("tie", &|case, x| case.work.body.radius_viscosity_correlation = -0.15 * x);
}

#[test]
fn a_flow_that_is_no_number_fills_nothing() {
    for ln_ratio in [f64::NAN, f64::NEG_INFINITY] {
        assert!(case(ln_ratio).computed().abs() < 1e-12);
    }
    let mut unknown = case(0.5);
    unknown.places[0].ln_over_fit = f64::INFINITY;
    assert!(unknown.computed().abs() < 1e-12);
    let none = unknown.uncertainty().budget(&[]);
    assert!(none.probability.abs() < 1e-12);
}

#[test]
fn the_shares_are_those_of_the_variance_of_the_draws() {
    let case = case(0.8);
    let budget = case.uncertainty().budget(&case.places);
    let total: f64 = budget.components.iter().map(|component| component.share).sum();
    assert!((total - 1.0).abs() < 1e-12);
    let sd =
        |source| budget.components.iter().find(|part| part.source == source).unwrap().ln_sd;
    let mut draws = Draws(Xoshiro256PlusPlus::seed_from_u64(3));
    let mut drawn_sd = |of: &dyn Fn(&mut Draws) -> f64| {
        let values: Vec<f64> = (0..DRAWS).map(|_| of(&mut draws)).collect();
        let mean = values.iter().sum::<f64>() / f64::from(DRAWS);
        let square = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>();
        (square / f64::from(DRAWS)).sqrt()
    };
    let steeper = |draws: &mut Draws| draws.between(-0.97, 0.97).exp();
    let expected = [
        (
            UncertaintySource::ContactAngle,
            drawn_sd(&|draws| draws.angle(30.0).to_radians().cos().ln()),
        ),
        (UncertaintySource::TemperatureDependence, drawn_sd(&|draws| 0.07 * steeper(draws))),
        (
            UncertaintySource::Sensor,
            drawn_sd(&|draws| 0.0144 * steeper(draws) * draws.between(-2.8, 2.8)),
        ),
        (
            UncertaintySource::PieceTemperature,
            drawn_sd(&|draws| 0.0144 * steeper(draws) * draws.normal(4.0)),
        ),
        (
            UncertaintySource::Unevenness,
            drawn_sd(&|draws| (0..9).map(|_| draws.normal(0.1)).fold(f64::MIN, f64::max)),
        ),
    ];
    for (source, drawn) in expected {
        assert!((sd(source) / drawn - 1.0).abs() < 0.01, "{source:?} {} {drawn}", sd(source));
    }
}
