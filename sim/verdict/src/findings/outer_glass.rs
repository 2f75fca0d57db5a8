//! Data of the findings about the glass outside the pores: surplus, melt-back and cooling.

use super::soak_advice::SoakAdvice;

/// Glass outside the pores at the end of the firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surplus {
    /// Mean thickness of the film (m).
    pub thickness_m: f64,
    /// Its volume on one piece (m³).
    pub volume_m3: f64,
    /// It is the skin on infiltrated work, not a coat.
    pub skin: bool,
    /// How far it runs at most, with 90 % confidence (m).
    pub likely_run_m: f64,
    /// The input that adds the most to this.
    pub from: SurplusInput,
    /// It adds more than all others together, as squares.
    pub is_most: bool,
    /// Width of the strip at the margin that gets no glass (m): beyond what runs over the rim and what goes
    /// sideways in the pores.
    pub dry_m: f64,
    /// The cure, if it does not pass.
    pub advice: Option<SurplusAdvice>,
}

/// How to keep the glass off the margin, with 90 % confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurplusAdvice {
    /// The bare rim that is wide enough, in tenths (mm); `None` if the wall is not high enough for one.
    pub rim_mm: Option<f64>,
    /// The thickest coat that stays within the rim as it is; `None` if even a hundredth of a millimetre
    /// runs over.
    pub coat: Option<ThinnerCoat>,
}

/// A coat that stays within the rim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThinnerCoat {
    /// Its thickness, in hundredths (mm).
    pub mm: f64,
    /// It has enough glass for the wall.
    pub fills_wall: bool,
}

/// An input of which an error lets surplus glass run farther.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SurplusInput {
    /// A glass that wets better, at a smaller angle.
    ContactAngle,
    /// A thicker coat.
    Coat,
    /// Finer pores, which drink more slowly.
    PoreRadius,
    /// Pores with more turns, which drink more slowly.
    Tortuosity,
    /// A thinner wall, which drinks less.
    Wall,
    /// Fewer pores, which drink less.
    Porosity,
    /// A more fluid glass, which runs on once the wall is full.
    Viscosity,
}

/// The two expansions (1/K), and where the glass stiffens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mismatch {
    /// Of the glass below its transition.
    pub glass_per_k: f64,
    /// Of the infiltrated body.
    pub body_per_k: f64,
    /// The glass's transition (°C).
    pub transition_c: f64,
}

/// The result for a surface that is to be melted back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeltBackFinding {
    /// The remaining roughness was computed.
    Computed {
        /// The flow of the glass over the flow that the limit needs; 0 if the surface is smooth already.
        times: f64,
        /// The roughness that this is reckoned for (m), if the surface is smoother.
        even_m: Option<f64>,
        /// The soak that would make it pass.
        advice: Option<SoakAdvice>,
    },
    /// The model has levelled the surface so many times over that it cannot tell this firing from others.
    Indistinct {
        /// The flow of the glass over the flow that the limit needs; 0 if the surface is smooth already.
        times: f64,
        /// The roughness that this is reckoned for (m), if the surface is smoother.
        even_m: Option<f64>,
        /// What would have met the limit.
        least: LeastSoak,
    },
    /// It cannot be computed: the infiltrated work names no glass.
    NoGlass,
}

/// The least soaks that meet the limit, without what the ramps add.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastSoak {
    /// The lowest setpoint (°C), and the length of the soak (min); `None` without a soak.
    pub as_long: Option<(f64, f64)>,
    /// The shortest time in whole minutes, and the setpoint of the hottest soak (°C).
    pub as_hot: (f64, f64),
}
