//! What the chamber needs to know of the work.

use crate::heat_curve::HeatCurve;
use crate::spec::{CoatSpec, WorkSpec};

/// Emissivity of a wet surface: films of water have 0.95 to 0.96, a slurry less; from memory.
pub(super) const WET_EMISSIVITY: f64 = 0.9;

/// The thermal properties of the pieces, as the chamber needs them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PieceThermal {
    /// Pieces, each on a pin.
    pub count: u32,
    /// Thickness of the wall (m).
    pub wall_m: f64,
    /// Outer area of one piece (m²).
    pub area_m2: f64,
    /// Heat capacity of the wall by volume, pores included, over temperature (J/(m³ K)).
    pub heat_capacity_j_m3_k: HeatCurve,
    /// Conductivity of the wall (W/(m K)).
    pub k_w_m_k: f64,
    /// Emissivity of the dry surface.
    pub emissivity: f64,
    /// Heat capacity of the coat's glass on a piece (J/K).
    pub coat_j_k: f64,
}

impl PieceThermal {
    /// The thermal properties of the work. An infiltrated body's pores are full of glass, whose
    /// heat capacity by volume is near enough to the body's own.
    pub fn of(work: &WorkSpec) -> Self {
        let body = &work.body;
        let solid = if work.infiltrated { 1.0 } else { 1.0 - body.porosity };
        Self {
            count: work.count,
            wall_m: work.wall_m.value,
            area_m2: work.area_m2,
            heat_capacity_j_m3_k: body.heat_capacity().times(body.solid_kg_m3 * solid),
            k_w_m_k: body.k_w_m_k,
            emissivity: body.emissivity,
            coat_j_k: work.area_m2 * work.coat.as_ref().map_or(0.0, CoatSpec::glass_j_m2_k),
        }
    }
}
