//! The distribution of a sum of independent variables of any shape.
//!
//! Normal parts combine into one standard deviation. Other parts become points with weights, by
//! Gauss-Legendre quadrature or by cutting a cumulative distribution into cells, so the sum is a mixture of
//! normal variables.

use super::quadrature::{self, Node};

/// Points whose weight is below this share of the whole are dropped.
const NEGLIGIBLE: f64 = 1e-12;

/// How far a normal variable reaches, in standard deviations: 2 in 10⁹ are beyond.
pub(super) const NORMAL_REACH: f64 = 6.0;

/// A sum of independent variables.
#[derive(Clone, Debug, PartialEq)]
pub struct Distribution {
    /// Standard deviation of the normal parts together.
    normal_sd: f64,
    /// The other parts together; the weights add up to 1.
    points: Vec<Node>,
}

impl Distribution {
    /// A normal variable around zero.
    pub fn normal(sd: f64) -> Self {
        Self { normal_sd: sd, points: vec![Node { at: 0.0, weight: 1.0 }] }
    }

    /// All values between these limits on both sides of zero are equally likely. This is how JCGM 100:2008,
    /// 4.3.7, takes limits without a known distribution.
    pub fn rectangular(limit: f64) -> Self {
        Self::of_density(-limit, limit, |_| 1.0, |x| x)
    }

    /// `value(x)` of an x with this density between two bounds; the density may lack a constant factor.
    pub(super) fn of_density(
        low: f64,
        high: f64,
        density: impl Fn(f64) -> f64,
        value: impl Fn(f64) -> f64,
    ) -> Self {
        let nodes = quadrature::nodes(low, high);
        let points = nodes.map(|x| Node { at: value(x.at), weight: x.weight * density(x.at) });
        Self::of_points(points)
    }

    /// A variable with this cumulative distribution, in equal cells from `low` to `high`, each with its
    /// weight in its middle. The cells add a twelfth of their width squared to the variance.
    pub(super) fn of_cdf(low: f64, high: f64, cells: u16, cdf: impl Fn(f64) -> f64) -> Self {
        let width = (high - low) / f64::from(cells);
        let mut below = 0.0;
        let points = (1..=cells).map(|cell| {
            let edge = low + f64::from(cell) * width;
            let up_to = if cell == cells { 1.0 } else { cdf(edge) };
            let weight = up_to - below;
            below = up_to;
            Node { at: edge - 0.5 * width, weight }
        });
        Self::of_points(points)
    }

    fn of_points(points: impl Iterator<Item = Node>) -> Self {
        let mut points: Vec<Node> = points.collect();
        let whole: f64 = points.iter().map(|point| point.weight).sum();
        points.retain(|point| point.weight > NEGLIGIBLE * whole);
        for point in &mut points {
            point.weight /= whole;
        }
        Self { normal_sd: 0.0, points }
    }

    /// The sum with an independent variable.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        let sums = self.points.iter().flat_map(|a| {
            other.points.iter().map(|b| Node { at: a.at + b.at, weight: a.weight * b.weight })
        });
        Self {
            normal_sd: root_sum_of_squares([self.normal_sd, other.normal_sd]),
            points: sums.collect(),
        }
    }

    /// Mean.
    pub fn mean(&self) -> f64 {
        self.points.iter().map(|point| point.weight * point.at).sum()
    }

    /// Standard deviation.
    pub fn sd(&self) -> f64 {
        let mean = self.mean();
        let around = |point: &Node| point.weight * (point.at - mean) * (point.at - mean);
        let variance: f64 = self.points.iter().map(around).sum();
        (variance + self.normal_sd * self.normal_sd).sqrt()
    }

    /// Probability of this value or less.
    pub fn cdf(&self, x: f64) -> f64 {
        self.points.iter().map(|p| p.weight * normal_cdf(x - p.at, self.normal_sd)).sum()
    }

    /// Standard deviation of the normal parts.
    pub(super) fn normal_sd(&self) -> f64 {
        self.normal_sd
    }

    /// The points and their weights, without the normal part.
    pub(super) fn points(&self) -> &[Node] {
        &self.points
    }

    /// Bounds beyond which practically nothing lies.
    pub(super) fn reach(&self) -> (f64, f64) {
        let (low, high) =
            self.points.iter().fold((f64::MAX, f64::MIN), |(low, high), point| {
                (low.min(point.at), high.max(point.at))
            });
        let beyond = NORMAL_REACH * self.normal_sd;
        (low - beyond, high + beyond)
    }
}

/// Probability that a normal variable around zero is at most `x`; a step for no deviation.
pub(super) fn normal_cdf(x: f64, sd: f64) -> f64 {
    if sd > 0.0 {
        0.5 * libm::erfc(-x / (sd * core::f64::consts::SQRT_2))
    } else if x >= 0.0 {
        1.0
    } else {
        0.0
    }
}

/// Standard deviation of the sum of independent variables.
pub(super) fn root_sum_of_squares(sds: impl IntoIterator<Item = f64>) -> f64 {
    sds.into_iter().map(|sd| sd * sd).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_probability_is_that_of_a_normal_variable() {
        let normal = Distribution::normal(0.3);
        // Tabulated: 90 % at 1.2816 deviations.
        assert!((normal.cdf(0.3 * 1.281_551_565_544_6) - 0.9).abs() < 1e-9);
        // Tabulated: 97.725 % at two deviations, half at none.
        assert!((normal.cdf(0.6) - 0.977_249_868).abs() < 1e-8);
        assert!((normal.cdf(0.0) - 0.5).abs() < 1e-12);
        let exact = Distribution::normal(0.0);
        assert!(exact.cdf(1e-9) > 0.5 && exact.cdf(-1e-9) < 0.5);
    }

    #[test]
    fn a_cut_distribution_keeps_its_mean_and_nearly_its_deviation() {
        let cut = Distribution::of_cdf(-1.8, 1.8, 48, |x| normal_cdf(x, 0.3));
        assert!(cut.mean().abs() < 1e-9, "{}", cut.mean());
        let expected = (0.3_f64.powi(2) + (3.6_f64 / 48.0).powi(2) / 12.0).sqrt();
        assert!((cut.sd() / expected - 1.0).abs() < 1e-6, "{} {expected}", cut.sd());
        let sum = cut.plus(&Distribution::normal(0.4));
        assert!((sum.cdf(0.5) - normal_cdf(0.5, 0.5)).abs() < 1e-3, "{}", sum.cdf(0.5));
    }
}
