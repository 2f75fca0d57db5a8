//! How much thicker than its nominal wall a piece is at its thickest spot.

use super::distribution::{Distribution, NORMAL_REACH, normal_cdf};
use saggar_plant::spec::WorkSpec;

/// Area on which the thickness of a wall counts as the same (m²). To calibrate.
const SPOT_M2: f64 = 25.0e-6;
/// Cells of the distribution of the thickest spot: four for each deviation.
const CELLS: u16 = 48;

/// The logarithm of the wall squared, over that of the nominal wall.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct WallDemand {
    /// Standard deviation of the mean wall, from piece to piece.
    pub(super) between_sd: f64,
    /// The thickest spot over the mean wall of its piece.
    pub(super) thickest: Distribution,
}

impl WallDemand {
    pub(super) fn of(work: &WorkSpec) -> Self {
        let spot_sd = 2.0 * work.wall_within_m / work.wall_m.value;
        let spots = (work.area_m2 / SPOT_M2).max(1.0);
        let reach = NORMAL_REACH * spot_sd;
        let all_below = |x: f64| libm::pow(normal_cdf(x, spot_sd), spots);
        Self {
            between_sd: 2.0 * work.wall_m.relative_sd(),
            thickest: Distribution::of_cdf(-reach, reach, CELLS, all_below),
        }
    }

    /// Both together.
    pub(super) fn whole(&self) -> Distribution {
        let (low, high) = self.thickest.reach();
        // A deviation of half a cell at least keeps the sum smooth.
        let half_cell = 0.5 * (high - low) / f64::from(CELLS);
        self.thickest.plus(&Distribution::normal(self.between_sd.max(half_cell)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use saggar_plant::spec::UncertainValue;

    fn demand(between: f64, within_m: f64, area_m2: f64) -> WallDemand {
        let wall_m = UncertainValue::relative(0.5e-3, between);
        let work = WorkSpec::coated_coping();
        WallDemand::of(&WorkSpec { wall_m, wall_within_m: within_m, area_m2, ..work })
    }

    #[test]
    fn the_thickest_of_several_spots_has_the_tabulated_mean_and_deviation() {
        // Order statistics of the normal distribution, tabulated: the largest of 9 has the mean 1.485013
        // and the deviation 0.5978, the only one 0 and 1.
        for (area_mm2, mean, sd) in [(225.0, 1.485_013, 0.5978), (25.0, 0.0, 1.0)] {
            let spots = demand(0.0, 0.025e-3, area_mm2 * 1e-6).thickest;
            assert!((spots.mean() / 0.1 - mean).abs() < 1e-3, "{}", spots.mean());
            assert!((spots.sd() / 0.1 - sd).abs() < 5e-3, "{}", spots.sd());
        }
    }

    #[test]
    fn an_even_wall_varies_from_piece_to_piece_alone() {
        let even = demand(0.1, 0.0, 2.2e-4);
        assert!(even.thickest.sd() < 1e-12 && even.thickest.mean().abs() < 1e-12);
        let whole = even.whole();
        assert!(
            (whole.sd() - 0.2).abs() < 1e-12 && (whole.cdf(0.2) - 0.841_344_7).abs() < 1e-6
        );
    }
}
