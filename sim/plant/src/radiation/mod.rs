//! Grey-body exchange between surfaces, as areas: the heat is `σ · area · (T1⁴ − T2⁴)`.
//!
//! The forms are those of any heat transfer text (Incropera, chapter 13).

mod grey;
mod views;

pub use grey::{Enclosure, Surface};
pub use views::{
    cylinder_to_disc, cylinder_to_sphere, disc_to_disc, sphere_to_disc, sphere_to_sphere,
};

/// Stefan–Boltzmann constant (W/(m² K⁴)), CODATA 2018, exact.
pub const SIGMA: f64 = 5.670_374_419e-8;

/// Exchange area of two grey surfaces where the inner, convex one sees only the outer one:
/// concentric spheres and long cylinders, a small body in a chamber, and near parallel plates
/// when both areas are equal (m²).
pub fn enclosed(
    inner_m2: f64,
    inner_emissivity: f64,
    outer_m2: f64,
    outer_emissivity: f64,
) -> f64 {
    let outer = inner_m2 / outer_m2 * (1.0 / outer_emissivity - 1.0);
    inner_m2 / (1.0 / inner_emissivity + outer)
}
