//! The film of glass on the wall, and how far its surplus runs down while the pores drink.
//!
//! The wall stands upright, with the margin at its lower edge. A film of thickness `h` on it flows at
//! the mean velocity `h² (ρ g − f) / (3 η)` (Nusselt's film), where `f` is what the wetting line holds
//! back: `γ (cos θr − cos θa)` for each metre of its length (Furmidge, J. Colloid Sci. 17 (1962) 309,
//! from memory), over the volume of the film above it. `θa` is the contact angle of the glass on the dry
//! body, and `θr` is 0, because the glass recedes over a body that it has wetted.
//!
//! The front of a film of even thickness moves with that thickness until the thinning that starts at the
//! upper edge (`h = √(η x / (ρ g t))`; Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204) catches up with
//! it, half of the coat's height below the coat. From then on it has the thickness 3/2 of the mean, and
//! reaches `xN = (9 A² ρ g t / (4 η))^⅓` (Huppert, Nature 300 (1982) 427). Both hold exactly without
//! pores and without retention.

use crate::constants::GRAVITY_M_S2;
use crate::spec::{CoatSpec, WorkSpec};

/// Largest growth of the wetted height in one step of the sum.
const GROWTH_MAX: f64 = 0.01;

/// Steps of [`Film::after`]. In each of them the front in the pores goes equally deep.
const STEPS: u32 = 500;

/// The film of one firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Glass in the coat, as a thickness (m).
    coat_m: f64,
    /// Height of the coat (m).
    height_m: f64,
    /// Pore volume over volume of the body below the coat; 0 once it is infiltrated.
    porosity: f64,
    /// Weight of the glass (N/m³).
    weight_n_m3: f64,
    /// Force on the wetting line (N/m).
    retention_n_m: f64,
    /// Width that the coat leaves bare (m).
    rim_m: f64,
    /// Glass that is not in the pores, as a thickness over the height of the coat (m).
    left_m: f64,
    /// Distance of the front from the lower edge of the coat (m).
    run_m: f64,
    at_margin_s: Option<f64>,
}

impl Film {
    /// The glass as it was brushed on. `None` without a coat.
    pub fn new(work: &WorkSpec) -> Option<Self> {
        work.coat.as_ref().map(|coat| Self::of_coat(work, coat))
    }

    /// The same under another coat than the work's own.
    pub fn of_coat(work: &WorkSpec, coat: &CoatSpec) -> Self {
        let glass = &coat.glass;
        let angle = glass.contact_angle_deg.to_radians();
        let coat_m = coat.thickness_m.value * coat.glass_share;
        Self {
            coat_m,
            height_m: coat_height_m(work.area_m2),
            porosity: if work.infiltrated { 0.0 } else { work.body.porosity },
            weight_n_m3: glass.density_kg_m3 * GRAVITY_M_S2,
            retention_n_m: glass.surface_tension_n_m * (1.0 - libm::cos(angle)),
            rim_m: coat.bare_rim_m,
            left_m: coat_m,
            run_m: 0.0,
            at_margin_s: None,
        }
    }

    /// How far the glass ran below the coat (m), as if the wall had no end.
    pub fn run_m(&self) -> f64 {
        self.run_m
    }

    /// When it ran past the bare rim (s).
    pub fn at_margin_s(&self) -> Option<f64> {
        self.at_margin_s
    }

    /// Height of the coat (m).
    pub fn height_m(&self) -> f64 {
        self.height_m
    }

    /// Glass outside the pores, as a thickness over the height of the coat (m).
    pub fn left_m(&self) -> f64 {
        self.left_m
    }

    /// Mean thickness of the film over the height that it wets (m).
    pub fn thickness_m(&self) -> f64 {
        self.volume_m2() / (self.height_m + self.run_m)
    }

    /// Thickness of the film at its front (m).
    pub fn front_thickness_m(&self) -> f64 {
        self.left_m.min(1.5 * self.thickness_m())
    }

    /// Volume of the film for each metre of the margin (m²).
    fn volume_m2(&self) -> f64 {
        self.left_m * self.height_m
    }

    /// One step in which the flow grew by `added_per_pa`, until `at_s`; the front in the pores is at
    /// `depth_m` then.
    pub(super) fn step(&mut self, added_per_pa: f64, depth_m: f64, at_s: f64) {
        let end_m = (self.coat_m - self.porosity * depth_m).max(0.0);
        // The glass that leaves in this step counts half.
        self.left_m = 0.5 * (self.left_m + end_m);
        let mut rest_per_pa = added_per_pa;
        while rest_per_pa > 0.0 {
            let speed_pa_m = self.speed_pa_m();
            let longest = GROWTH_MAX * (self.height_m + self.run_m);
            if speed_pa_m * rest_per_pa <= longest {
                self.run_m += speed_pa_m * rest_per_pa;
                break;
            }
            self.run_m += longest;
            rest_per_pa -= longest / speed_pa_m;
        }
        self.left_m = end_m;
        if self.at_margin_s.is_none() && self.run_m > self.rim_m {
            self.at_margin_s = Some(at_s);
        }
    }

    /// Velocity of the front times the viscosity (Pa m).
    fn speed_pa_m(&self) -> f64 {
        let front_m = self.front_thickness_m();
        let held_n_m3 = self.retention_n_m / self.volume_m2();
        let pull_n_m3 = (self.weight_n_m3 - held_n_m3).max(0.0);
        front_m * front_m * pull_n_m3 / 3.0
    }

    /// The film after a flow of `per_pa`, over pores that drink up to `depth_m(flow)`. Only the flow
    /// counts, not when it happened.
    pub fn after(mut self, per_pa: f64, depth_m: impl Fn(f64) -> f64) -> Self {
        let flow_at = |step: u32| {
            let share = f64::from(step) / f64::from(STEPS);
            per_pa * share * share
        };
        for step in 1..=STEPS {
            let (from, to) = (flow_at(step - 1), flow_at(step));
            self.step(to - from, depth_m(to), 0.0);
        }
        self
    }
}

/// Height of the wall of a piece of this area (m²), and of a coat on all of it (m): an upright shell whose wall is
/// half as high as the square root of its area. Assumption: a coping has about these proportions, and the rim
/// below the coat is short.
pub fn coat_height_m(area_m2: f64) -> f64 {
    0.5 * area_m2.sqrt()
}
