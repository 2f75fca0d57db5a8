//! Where the pieces stand on the table.

use std::f64::consts::{PI, TAU};

use super::piece_thermal::PieceThermal;

/// Radius of the ring of places as a share of the table's. Common practice, no source.
const INNER: f64 = 0.35;

/// Pieces on a circle round the table's axis, at equal distances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ring {
    /// How many; at least one.
    pub(super) count: u32,
    /// Radius of the circle (m).
    pub(super) off_axis_m: f64,
}

impl Ring {
    /// Distances from each piece of this ring to each other piece of a ring (m).
    pub(super) fn distances_m(&self, to: &Self) -> impl Iterator<Item = f64> {
        let (own, other) = (*self, *to);
        let same = own == other;
        (0..own.count).flat_map(move |one| {
            let others = (0..other.count).filter(move |k| !same || *k != one);
            others.map(move |k| {
                let turn = if same { 0.0 } else { 0.5 };
                let angle = TAU
                    * (f64::from(one) / f64::from(own.count)
                        - (f64::from(k) + turn) / f64::from(other.count));
                let (a, b) = (own.off_axis_m, other.off_axis_m);
                (a * a + b * b - 2.0 * a * b * libm::cos(angle)).max(0.0).sqrt()
            })
        })
    }
}

/// Radius of a sphere of this area (m).
pub(super) fn sphere_radius_m(area_m2: f64) -> f64 {
    (area_m2 / (4.0 * PI)).sqrt()
}

/// The rings that the pieces fill on a table of this radius (m).
pub(super) fn rings(piece: &PieceThermal, table_m: f64) -> Vec<Ring> {
    vec![Ring { count: piece.count.max(1), off_axis_m: INNER * table_m }]
}
