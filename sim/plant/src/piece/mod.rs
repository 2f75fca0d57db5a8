//! Effects of a firing on the piece: drying, burn-off, infiltration, surplus glass, stress and melt-back,
//! integrated once a second from the temperatures of its own layers.
//!
//! The inputs are temperatures and a pressure; the outputs are the vapour and the heat that the vapour
//! takes. The chamber model computes the temperatures of the piece. Steps need not be equal. A call
//! with `dt_s` 0 sets the temperatures to start from.

mod approach;
mod film;
mod glass;
mod infiltration;
mod lubricant;
mod materials;
mod mismatch;
mod stress;
mod surface;
mod vapour;
mod water;

pub use approach::{APPROACHED_C, Approach};
pub use film::{Film, coat_height_m};
pub use glass::{Flow, FlowTotals};
pub use infiltration::{
    Front, InfiltrationPlan, budget_ratio, capillary_pa, conductance, trapped_share,
};
pub use lubricant::{CLEAN_SHARE, Lubricant, OXYGEN_PA};
pub use mismatch::{infiltrated_expansion_per_k, mismatch_pa};
pub use stress::{Peak, Stress, faces_c, pa_per_k, resistance_k};
pub use surface::{MeltBack, decay_pa};
pub use vapour::{AMBIENT_VAPOUR_SHARE, evaporation_j_kg, saturation_pa};
pub use water::{
    Bubble, DRY_SHARE, GROWTH_BOILING, GROWTH_MAX, OPEN_SHARE, Water, lift_temperature_c,
};

use crate::constants::KELVIN;
use crate::spec::{CoatSpec, WorkSpec};
use infiltration::FlowStep;
use water::DryingConditions;

/// Temperature at which the heat capacity of a drying body is taken (K).
const DRYING_K: f64 = 330.0;

/// The conditions around the piece over one step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PieceConditions {
    /// Temperatures of four equal layers of the wall at the end of the step, the outer one
    /// first (°C).
    pub layers_c: [f64; 4],
    /// Chamber pressure (Pa).
    pub pressure_pa: f64,
    /// Share of water vapour in the chamber's gas; [`AMBIENT_VAPOUR_SHARE`] in ambient air.
    pub vapour_share: f64,
}

/// The pieces of one ring of places and their history so far. They are alike and equally warm, so one
/// stands for all; amounts of vapour and heat are those of all together.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// How many they are.
    pub count: u32,
    /// Time since the first step (s).
    pub elapsed_s: f64,
    /// Mean of the layers (°C); 20 before the first step.
    pub mean_c: f64,
    /// Free water.
    pub water: Water,
    /// Milling lubricant.
    pub lubricant: Lubricant,
    /// Flow of the glass; `None` without a glass.
    pub flow: Option<Flow>,
    /// The way to the temperatures of infiltration; `None` without a glass.
    pub approach: Option<Approach>,
    /// The front; `None` unless this firing infiltrates.
    pub front: Option<Front>,
    /// The glass on the wall; `None` without a coat.
    pub film: Option<Film>,
    /// Melt-back of the surface; `None` unless this is a melt-back fire.
    pub melt_back: Option<MeltBack>,
    /// Thermal stress.
    pub stress: Stress,
    /// Maximum of the mean (°C) and its time; absolute zero before the first step.
    pub hottest: Peak,
    /// Lowest pressure while the mean was above [`HOT_C`] (Pa); infinite if it never was.
    pub hot_pressure_min_pa: f64,
}

/// Above this temperature a vacuum is one that draws glass into pores, not one that dries (°C). Ours.
pub const HOT_C: f64 = 500.0;

impl Piece {
    /// All pieces of the work, in one ring, at the start of a firing.
    pub fn new(work: &WorkSpec) -> Self {
        Self::of_ring(work, work.count)
    }

    /// So many pieces of the work at the start of a firing.
    pub fn of_ring(work: &WorkSpec, count: u32) -> Self {
        Self {
            count,
            elapsed_s: 0.0,
            mean_c: 20.0,
            water: water_of(work, count),
            lubricant: Lubricant::new(work.lubricant_share > 0.0),
            flow: work.coat.as_ref().map(|coat| Flow::new(coat.glass.clone())),
            approach: work.coat.as_ref().map(|coat| Approach::new(&coat.glass)),
            front: InfiltrationPlan::new(work).map(Front::new),
            film: Film::new(work),
            melt_back: MeltBack::new(work),
            stress: Stress::new(&work.body),
            hottest: Peak { value: -KELVIN, at_s: 0.0 },
            hot_pressure_min_pa: f64::INFINITY,
        }
    }

    /// Advances by `dt_s`; `conditions` are those at the end of the step.
    pub fn step(&mut self, dt_s: f64, conditions: &PieceConditions) {
        let [a, b, c, d] = conditions.layers_c;
        let mean_c = 0.25 * (a + b + c + d);
        let hot_c = a.max(b).max(c.max(d));
        let PieceConditions { pressure_pa, vapour_share, .. } = *conditions;
        self.elapsed_s += dt_s;
        self.mean_c = mean_c;
        let at_s = self.elapsed_s;
        let weather =
            DryingConditions { mean_c, hottest_c: hot_c, pressure_pa, vapour_share, at_s };
        self.water.step(dt_s, &weather);
        self.lubricant.step(dt_s, mean_c, pressure_pa, at_s);
        if let Some(flow) = &mut self.flow {
            let added_per_pa = flow.step(dt_s, mean_c, at_s);
            let per_pa = flow.per_pa();
            if let Some(front) = &mut self.front {
                front.step(&FlowStep { dt_s, at_s, added_per_pa, per_pa, pressure_pa });
            }
            if let Some(film) = &mut self.film {
                let depth_m = self.front.as_ref().map_or(0.0, Front::depth_m);
                film.step(added_per_pa, depth_m, at_s);
            }
        }
        if let Some(approach) = &mut self.approach {
            let through_at_s = self.front.as_ref().and_then(Front::through_at_s);
            approach.step(mean_c, at_s, through_at_s.is_some());
        }
        if mean_c > HOT_C {
            self.hot_pressure_min_pa = self.hot_pressure_min_pa.min(pressure_pa);
        }
        self.stress.step(&conditions.layers_c, mean_c, at_s);
        self.hottest.raise(mean_c, at_s);
    }

    /// Water vapour that these pieces release into the chamber now (Pa m³/s).
    pub fn vapour_load_pa_m3_s(&self) -> f64 {
        self.water.load_pa_m3_s()
    }

    /// Heat that the vapour takes from these pieces now (W); the chamber must subtract it from
    /// the outer layer.
    pub fn heat_taken_w(&self) -> f64 {
        self.water.heat_taken_w()
    }
}

/// The free water of coat and body. A coat dries over its own side; a bare body over both.
fn water_of(work: &WorkSpec, count: u32) -> Water {
    let area = work.area_m2 * f64::from(count);
    let body_kg = area * work.wall_m.value * (1.0 - work.body.porosity) * work.body.solid_kg_m3;
    let coat_kg =
        work.coat.as_ref().map_or(0.0, |coat| area * coat.glass_kg_m2() * coat.water_share);
    let faces = if coat_kg > 0.0 { 1.0 } else { 2.0 };
    let body_j_k = body_kg * work.body.heat_capacity().at(DRYING_K)
        + area * work.coat.as_ref().map_or(0.0, CoatSpec::glass_j_m2_k);
    Water::new(coat_kg + body_kg * work.moisture_share, faces * area, body_j_k)
}

#[cfg(test)]
mod tests;
