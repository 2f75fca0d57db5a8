//! Confidence that an infiltration succeeds, and that the coat has enough glass, from the uncertainties of
//! their inputs.
//!
//! Depth and glass are products of powers, so the logarithms of the inputs add up. A quantity that cannot be
//! negative counts as lognormal: its best estimate is the median, and its relative standard deviation is that of
//! the logarithm. The largest component, the pore radius, belongs to an effective, fitted value: see
//! `piece/infiltration.rs`.

mod budget;
mod cdf_table;
mod depth;
mod distribution;
mod promise;
mod quadrature;
mod source;
mod wall;

pub use budget::{UncertaintyBudget, UncertaintyComponent};
pub(super) use depth::{
    CONTACT_ANGLE_MAX_DEG, CONTACT_ANGLE_SD_DEG, DepthUncertainty, PlaceFlow, TORTUOSITY_SD,
};
pub use distribution::Distribution;
pub use source::UncertaintySource;

use distribution::root_sum_of_squares;
use promise::{PieceGroup, Promise};
use quadrature::Node;

use saggar_plant::piece;
use saggar_plant::spec::{CoatSpec, WorkSpec};

/// Relative standard deviation of the porosity, which all pieces share. To calibrate.
pub(super) const POROSITY_SD: f64 = 0.05;

/// Probability that the coat's glass fills the pores of every piece. Each piece has its own wall and coat.
pub(super) fn enough_glass(work: &WorkSpec, coat: &CoatSpec) -> f64 {
    let ratio = piece::budget_ratio(&work.body, coat, work.wall_m.value);
    let own_sd =
        root_sum_of_squares([coat.thickness_m.relative_sd(), work.wall_m.relative_sd()]);
    let promise =
        Promise::new(&Distribution::normal(POROSITY_SD), &Distribution::normal(own_sd));
    let group = PieceGroup { count: work.count, reserve: libm::log(ratio) };
    promise.kept(&[group], &[Node { at: 0.0, weight: 1.0 }])
}

#[cfg(test)]
mod tests;
