//! The work: the bodies of the pieces and the coat on them.

use crate::heat_curve::HeatCurve;

/// Thickest coat that a schedule may ask for (mm).
pub const COAT_MAX_MM: f64 = 5.0;
/// Default roughness left by blasting (µm). Value from memory.
pub const ROUGHNESS_MICROMETRE: f64 = 8.0;

/// Lowest pressure that a schedule may ask for (hPa).
pub const PRESSURE_MIN_HPA: f64 = 0.1;

/// Longest time that a stage of a schedule may name (min): two days.
pub const STAGE_MAX_MIN: f64 = 2880.0;

/// Specific heat of glass (J/(kg K)): silicate glasses at several hundred degrees, from memory.
const GLASS_J_KG_K: f64 = 1_000.0;

/// A value with its standard deviation, which enters the uncertainty of the verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UncertainValue {
    /// Best estimate.
    pub value: f64,
    /// Its standard deviation.
    pub deviation: Deviation,
}

/// A standard deviation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Deviation {
    /// A share of the value, so it grows with the value.
    Relative(f64),
    /// In the unit of the value, independent of the value.
    Absolute(f64),
}

impl UncertainValue {
    /// A value whose standard deviation is a share of it.
    pub const fn relative(value: f64, share: f64) -> Self {
        Self { value, deviation: Deviation::Relative(share) }
    }

    /// A value whose standard deviation is given in its own unit.
    pub const fn absolute(value: f64, sd: f64) -> Self {
        Self { value, deviation: Deviation::Absolute(sd) }
    }

    /// Standard deviation in the unit of the value.
    pub fn sd(&self) -> f64 {
        match self.deviation {
            Deviation::Relative(share) => share * self.value,
            Deviation::Absolute(sd) => sd,
        }
    }

    /// Standard deviation relative to the value.
    pub fn relative_sd(&self) -> f64 {
        match self.deviation {
            Deviation::Relative(share) => share,
            Deviation::Absolute(sd) => sd / self.value,
        }
    }
}

/// What a firing is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// It drives off milling lubricant and debris.
    Clean,
    /// It draws glass into the pores.
    Infiltrate,
    /// It heals the blasted surface of infiltrated work.
    MeltBack,
}

/// The pieces of one firing, all alike.
#[derive(Clone, Debug, PartialEq)]
pub struct WorkSpec {
    /// How many pieces.
    pub count: u32,
    /// What the firing is for; `None` if the schedule does not say.
    pub purpose: Option<Purpose>,
    /// Mean wall thickness of a piece (m); the spread is that from piece to piece.
    pub wall_m: UncertainValue,
    /// Standard deviation of the wall within one piece (m), from spot to spot.
    pub wall_within_m: f64,
    /// Area of one piece, one side (m²).
    pub area_m2: f64,
    /// The porous (or by now infiltrated) body.
    pub body: BodySpec,
    /// The slurry coat, if any.
    pub coat: Option<CoatSpec>,
    /// Milling lubricant left in the body, as a share of the body's mass.
    pub lubricant_share: f64,
    /// Free water in the body, as a share of the body's mass.
    pub moisture_share: f64,
    /// The body was infiltrated in an earlier firing: this one melts its surface back.
    pub infiltrated: bool,
    /// Depth of the roughness that blasting left (m), for a melt-back fire.
    pub roughness_m: f64,
}

/// A body material.
#[derive(Clone, Debug, PartialEq)]
pub struct BodySpec {
    /// Name.
    pub name: String,
    /// Density of the solid (kg/m³).
    pub solid_kg_m3: f64,
    /// Pore volume over total volume.
    pub porosity: f64,
    /// Effective pore radius for infiltration (m): fitted, not measured.
    pub pore_radius_m: UncertainValue,
    /// Temperature at which the pore radius was fitted (°C).
    pub fitted_at_c: f64,
    /// Correlation of the logarithms of radius and viscosity, -1 to 1: a fit gives only their ratio.
    pub radius_viscosity_correlation: f64,
    /// Tortuosity of the pores.
    pub tortuosity: f64,
    /// Specific heat of the solid at 1000 K (J/(kg K)).
    pub heat_capacity_j_kg_k: f64,
    /// How the specific heat changes with temperature; only its shape counts.
    pub heat_curve: HeatCurve,
    /// Conductivity of the porous body (W/(m K)).
    pub k_w_m_k: f64,
    /// Emissivity.
    pub emissivity: f64,
    /// Young's modulus as it goes into this firing (Pa).
    pub young_pa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Linear expansion (1/K).
    pub expansion_per_k: f64,
    /// Strength as it goes into this firing (Pa).
    pub strength_pa: f64,
}

impl BodySpec {
    /// Specific heat of the solid over temperature (J/(kg K)).
    pub fn heat_capacity(&self) -> HeatCurve {
        self.heat_curve.scaled_to(self.heat_capacity_j_kg_k)
    }
}

/// The slurry coat: glass powder in water.
#[derive(Clone, Debug, PartialEq)]
pub struct CoatSpec {
    /// Thickness (m), wet.
    pub thickness_m: UncertainValue,
    /// Width at the margin that the coat leaves bare (m).
    pub bare_rim_m: f64,
    /// Volume of glass over volume of the coat.
    pub glass_share: f64,
    /// Mass of water over mass of glass.
    pub water_share: f64,
    /// The glass.
    pub glass: GlassSpec,
}

impl CoatSpec {
    /// Mass of the glass by area (kg/m²).
    pub fn glass_kg_m2(&self) -> f64 {
        self.thickness_m.value * self.glass_share * self.glass.density_kg_m3
    }

    /// Heat capacity of the glass by area (J/(m² K)).
    pub fn glass_j_m2_k(&self) -> f64 {
        self.glass_kg_m2() * GLASS_J_KG_K
    }
}

/// A glass: `log10(viscosity / Pa s) = a + b / (T − t0)` with T in °C (Vogel, Fulcher, Tammann).
#[derive(Clone, Debug, PartialEq)]
pub struct GlassSpec {
    /// Name.
    pub name: String,
    /// Constant a.
    pub vft_a: f64,
    /// Constant b (K).
    pub vft_b_k: f64,
    /// Constant t0 (°C).
    pub vft_t0_c: f64,
    /// Standard deviation of log10 viscosity at the temperature of the fit.
    pub log10_sd: f64,
    /// Error limit of the logarithm of the activation energy of the viscosity.
    pub activation_error: f64,
    /// Glass transition (°C).
    pub transition_c: f64,
    /// Slowest mean rate from the transition to 1000 °C at which the glass is known to infiltrate
    /// (K/min).
    pub slowest_approach_k_min: f64,
    /// Surface tension (N/m).
    pub surface_tension_n_m: f64,
    /// Contact angle on the body (degrees).
    pub contact_angle_deg: f64,
    /// Density (kg/m³).
    pub density_kg_m3: f64,
    /// Linear expansion below the transition (1/K).
    pub expansion_per_k: f64,
    /// Young's modulus (Pa).
    pub young_pa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Strength (Pa).
    pub strength_pa: f64,
}
