//! Where the pieces stand on the table.

use std::f64::consts::{PI, TAU};

use super::piece_thermal::PieceThermal;

/// Most rings of places.
pub const RINGS: usize = 2;

/// Radii of the two rings of places as shares of the table's. Common practice, no source.
const RADII: [f64; RINGS] = [0.35, 0.75];

/// Distance between neighbours on a ring, middle to middle, over the diameter of a piece: half a diameter
/// of air is left between them. Common practice, no source.
const PITCH: f64 = 1.5;

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

/// The rings that the pieces fill on a table of this radius (m): the inner one first. What neither has
/// room for crowds the outer one.
pub(super) fn rings(piece: &PieceThermal, table_m: f64) -> Vec<Ring> {
    let [inner, outer] = RADII.map(|share| share * table_m);
    let count = piece.count.max(1);
    let held = count.min(places(sphere_radius_m(piece.area_m2), inner));
    let mut rings = vec![Ring { count: held, off_axis_m: inner }];
    if count > held {
        rings.push(Ring { count: count - held, off_axis_m: outer });
    }
    rings
}

/// Places for pieces of this radius on a circle of this radius (m); at least one.
fn places(piece_m: f64, off_axis_m: f64) -> u32 {
    let half_pitch = PITCH * piece_m / off_axis_m;
    if half_pitch > 1.0 {
        return 1;
    }
    // A tiny piece has thousands of places; no schedule has that many pieces.
    (PI / libm::asin(half_pitch).max(1e-3)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(count: u32, area_m2: f64) -> Vec<u32> {
        let piece = PieceThermal { count, area_m2, ..crate::thermal::tests::demo::copings() };
        rings(&piece, 0.036).iter().map(|ring| ring.count).collect()
    }

    #[test]
    fn the_inner_ring_is_filled_first() {
        // Spheres of 8.4 mm, 12.6 mm apart on a circle of 12.6 mm: a hexagon.
        assert_eq!(counts(1, 220e-6), [1]);
        assert_eq!(counts(6, 219e-6), [6]);
        assert_eq!(counts(7, 219e-6), [6, 1]);
        assert_eq!(counts(20, 219e-6), [6, 14]);
        assert_eq!(counts(3, 4.0e-3), [1, 2]);
        assert_eq!(counts(0, 0.0), [1]);
    }

    #[test]
    fn neighbours_on_a_hexagon_are_where_they_should_be() {
        let ring = Ring { count: 6, off_axis_m: 1.0 };
        let mut from_one: Vec<f64> = ring.distances_m(&ring).take(5).collect();
        from_one.sort_by(f64::total_cmp);
        let root = 3.0_f64.sqrt();
        for (found, expected) in from_one.iter().zip([1.0, 1.0, root, root, 2.0]) {
            assert!((found - expected).abs() < 1e-12, "{from_one:?}");
        }
        let outer = Ring { count: 3, off_axis_m: 2.0 };
        assert_eq!(ring.distances_m(&outer).count(), 18);
        assert!(ring.distances_m(&outer).all(|apart| (1.0..=3.0).contains(&apart)));
    }
}
