//! The probability that something that all pieces share is enough for each of them.
//!
//! All pieces of a firing share the glass, the fit and the furnace; each has its own wall. So they fail
//! together more often than independent pieces would, and the probability that all succeed is
//! `∫ p(shared) Π G(shared + reserve)^count d(shared)`, where `G` is the distribution of what one piece
//! demands. It is computed as the probability that the shared part exceeds the largest demand.

use super::cdf_table::CdfTable;
use super::distribution::Distribution;
use super::quadrature::Node;

/// Cells of the largest demand: at least this many, and at most.
const CELLS: (f64, f64) = (32.0, 1024.0);
/// Cells for each deviation of the normal part of what is shared: four add half a percent to a variance.
const CELLS_PER_DEVIATION: f64 = 4.0;

/// Pieces with the same reserve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct PieceGroup {
    /// How many.
    pub(super) count: u32,
    /// Best estimate of what they get over what they demand.
    pub(super) reserve: f64,
}

/// What the pieces share, and what each demands; both vary around their best estimates.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Promise {
    shared: CdfTable,
    shared_normal_sd: f64,
    demand: CdfTable,
}

impl Promise {
    /// The normal part of what is shared must not be zero.
    pub(super) fn new(shared: &Distribution, demand: &Distribution) -> Self {
        Self {
            shared: CdfTable::of(shared),
            shared_normal_sd: shared.normal_sd(),
            demand: CdfTable::of(demand),
        }
    }

    /// Probability that what is shared, with an `error` added, is enough for all pieces. Zero if a reserve is
    /// not a number.
    pub(super) fn kept(&self, groups: &[PieceGroup], errors: &[Node]) -> f64 {
        if groups.is_empty() || !groups.iter().all(|group| group.reserve.is_finite()) {
            return 0.0;
        }
        let largest = self.largest_demand(groups);
        let enough_with = |error: f64| -> f64 {
            let above =
                |demand: &Node| demand.weight * (1.0 - self.shared.at(demand.at - error));
            largest.points().iter().map(above).sum()
        };
        errors.iter().map(|error| error.weight * enough_with(error.at)).sum()
    }

    /// The largest demand of all pieces, less its reserve.
    fn largest_demand(&self, groups: &[PieceGroup]) -> Distribution {
        let (mut least, mut most) = (f64::MAX, f64::MIN);
        for group in groups {
            least = least.min(group.reserve);
            most = most.max(group.reserve);
        }
        let (low, high) = self.demand.bounds();
        let (low, high) = (low - most, high - least);
        let wanted = CELLS_PER_DEVIATION * (high - low) / self.shared_normal_sd;
        let cells = wanted.ceil().clamp(CELLS.0, CELLS.1) as u16;
        Distribution::of_cdf(low, high, cells, |demand| {
            let all_below = |group: &PieceGroup| {
                libm::pow(self.demand.at(demand + group.reserve), f64::from(group.count))
            };
            groups.iter().map(all_below).product()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::uncertainty::distribution::normal_cdf;

    const NO_ERROR: [Node; 1] = [Node { at: 0.0, weight: 1.0 }];

    fn kept(shared_sd: f64, own_sd: f64, count: u32, reserve: f64) -> f64 {
        let [shared, own] = [shared_sd, own_sd].map(Distribution::normal);
        Promise::new(&shared, &own).kept(&[PieceGroup { count, reserve }], &NO_ERROR)
    }

    #[test]
    fn one_piece_needs_what_a_sum_of_normal_variables_needs() {
        for (shared, own) in [(0.4, 0.2), (0.1, 0.5), (0.1, 2.0), (0.4, 0.001), (0.4, 0.0)] {
            for reserve in [-0.5, 0.0, 0.3, 0.6, 1.2] {
                let sd = f64::hypot(shared, own);
                let (found, exact) = (kept(shared, own, 1, reserve), normal_cdf(reserve, sd));
                assert!(
                    (found - exact).abs() < 1e-3,
                    "{shared} {own} {reserve}: {found} {exact}"
                );
            }
        }
    }

    #[test]
    fn what_is_shared_and_what_is_not_are_the_limits_for_many_pieces() {
        // Nearly nothing shared: independent pieces. Nearly everything shared: one piece.
        let apart = normal_cdf(0.5, 0.3_f64.hypot(0.01)).powi(10);
        let found = kept(0.01, 0.3, 10, 0.5);
        assert!((found - apart).abs() < 2e-3, "{found} {apart}");
        let together = normal_cdf(0.5, 0.3);
        let found = kept(0.3, 0.001, 10, 0.5);
        assert!((found - together).abs() < 3e-3, "{found} {together}");
    }

    #[test]
    fn a_reserve_that_is_no_number_keeps_no_promise() {
        for reserve in [f64::NAN, f64::NEG_INFINITY, f64::INFINITY] {
            assert!(kept(0.3, 0.2, 3, reserve).abs() < 1e-12);
        }
        let promise = Promise::new(&Distribution::normal(0.3), &Distribution::normal(0.2));
        assert!(promise.kept(&[], &NO_ERROR).abs() < 1e-12);
    }
}
