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
    /// The input whose error of one standard deviation takes the glass farthest.
    pub worse: WorseInput,
    /// How far that is (m).
    pub worse_run_m: f64,
    /// The cure, if it does not pass.
    pub advice: Option<SurplusAdvice>,
}

/// How to keep the glass off the margin, with each input at its worse value, too.
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

/// An input that is worse than its best best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WorseInput {
    /// The contact angle of the glass (degrees): a glass that wets better runs farther.
    ContactAngle {
        /// Best value.
        best: f64,
        /// One standard deviation less.
        worse: f64,
    },
    /// A thicker coat (m).
    Coat {
        /// Best value.
        best: f64,
        /// One standard deviation more.
        worse: f64,
    },
    /// Finer pores, which drink more slowly (m).
    PoreRadius {
        /// Best value.
        best: f64,
        /// One standard deviation less.
        worse: f64,
    },
    /// A thinner wall, which drinks less (m).
    Wall {
        /// Best value.
        best: f64,
        /// One standard deviation less.
        worse: f64,
    },
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
        /// The flow of the glass over the flow that the limit needs.
        times: f64,
        /// The soak that would make it pass.
        advice: Option<SoakAdvice>,
    },
    /// The model has levelled the surface so many times over that it cannot tell this firing from others.
    Indistinct {
        /// The flow of the glass over the flow that the limit needs.
        times: f64,
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
