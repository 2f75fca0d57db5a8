//! The simulation and the core against published figures.

mod burst;
mod control;
mod drying;
mod film;
mod heat_capacity;
mod infiltration;
mod instruments;
mod mismatch;
mod stress;
mod thermal;
mod thermocouple;
mod uncertainty;
mod vacuum;
mod views;

use saggar_plant::piece::{AMBIENT_VAPOUR_SHARE, PieceConditions};
use saggar_plant::spec::{BodySpec, GlassSpec};

/// The library's porous alumina.
fn alumina() -> BodySpec {
    BodySpec::named("alumina").expect("the library has alumina")
}

/// The constructed glass of the library.
fn lanthanum() -> GlassSpec {
    GlassSpec::named("lanthanum-glass").expect("the library has this glass")
}

/// A wall at one temperature in ambient air.
fn even(t_c: f64, pressure_pa: f64) -> PieceConditions {
    PieceConditions { layers_c: [t_c; 4], pressure_pa, vapour_share: AMBIENT_VAPOUR_SHARE }
}
