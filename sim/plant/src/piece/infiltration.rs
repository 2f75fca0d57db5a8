//! The glass front in the pores, the glass available for them, and trapped gas.
//!
//! Washburn's law along a temperature history: `h² = r γ cosθ / (2 τ²) ∫ dt/η`. The pore radius
//! is an effective one, fitted to infiltration times. Real porous ceramics infiltrate far
//! slower than Washburn's law predicts with their mean pore radius (Patro, Bhattacharyya and
//! Jayaram, J. Am. Ceram. Soc. 90 (2007) 3040), because the wide parts of a pore fill slowly and the
//! narrow parts exert little pull through them. A fit gives only the ratio of radius to viscosity.

use crate::spec::{BodySpec, CoatSpec, GlassSpec, WorkSpec};

/// Largest capillary pressure (Pa) that the estimate of trapped gas uses. The effective
/// radius is smaller than the pores, so its capillary pressure would be too optimistic. To
/// calibrate.
const CAPILLARY_MAX_PA: f64 = 1.0e6;
/// The surface counts as sealed when the front has gone this share of the wall. To calibrate.
const SEAL_SHARE: f64 = 0.02;

/// Washburn's constant without the viscosity (Pa m²): `h² = conductance · ∫ dt/η`.
pub fn conductance(body: &BodySpec, glass: &GlassSpec) -> f64 {
    body.pore_radius_m.value * glass.wetting_n_m() / (2.0 * body.tortuosity * body.tortuosity)
}

/// Capillary pressure of the effective pores (Pa).
pub fn capillary_pa(body: &BodySpec, glass: &GlassSpec) -> f64 {
    2.0 * glass.wetting_n_m() / body.pore_radius_m.value
}

/// Share of the pore volume that gas still fills if the pores were closed at `sealed_pa` and
/// the chamber stood at `outside_pa` when the glass stiffened: the isothermal gas law with the
/// capillary pressure on top. One side of a wall is open, so this is an upper bound.
pub fn trapped_share(sealed_pa: f64, outside_pa: f64, capillary_pa: f64) -> f64 {
    (sealed_pa / (outside_pa + capillary_pa)).min(1.0)
}

/// Glass in the coat over pores in the wall, both for one square metre of one side.
pub fn budget_ratio(body: &BodySpec, coat: &CoatSpec, wall_m: f64) -> f64 {
    coat.thickness_m.value * coat.glass_share / (wall_m * body.porosity)
}

/// The constants of an infiltration that follow from the work alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InfiltrationPlan {
    /// Washburn's constant (Pa m²).
    pub conductance: f64,
    /// The wall (m).
    pub wall_m: f64,
    /// Depth that the glass of the coat can fill (m).
    pub budget_m: f64,
    /// Flow at which the front reaches the far side of the wall (1/Pa).
    pub wall_per_pa: f64,
    /// Flow that uses the coat up (1/Pa).
    pub budget_per_pa: f64,
    /// Capillary pressure used against trapped gas (Pa).
    pub capillary_pa: f64,
}

impl InfiltrationPlan {
    /// `None` if the work has no coat, or is infiltrated already.
    pub fn new(work: &WorkSpec) -> Option<Self> {
        let coat = work.coat.as_ref().filter(|_| !work.infiltrated)?;
        let wall_m = work.wall_m.value;
        let budget_m = wall_m * budget_ratio(&work.body, coat, wall_m);
        let conductance = conductance(&work.body, &coat.glass);
        let flow_to = |h: f64| h * h / conductance;
        Some(Self {
            conductance,
            wall_m,
            budget_m,
            wall_per_pa: flow_to(wall_m),
            budget_per_pa: flow_to(budget_m),
            capillary_pa: capillary_pa(&work.body, &coat.glass).min(CAPILLARY_MAX_PA),
        })
    }

    /// Depth that a flow would reach in an unlimited wall under an unlimited coat (m).
    pub fn predicted_depth_m(&self, per_pa: f64) -> f64 {
        (self.conductance * per_pa).sqrt()
    }

    /// Depth after a flow (m): the front stops at the far side and when the coat is used up.
    pub fn depth_m(&self, per_pa: f64) -> f64 {
        self.predicted_depth_m(per_pa).min(self.wall_m).min(self.budget_m)
    }
}

/// The front of one firing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Front {
    plan: InfiltrationPlan,
    per_pa: f64,
    through_at_s: Option<f64>,
    used_up_at_s: Option<f64>,
    sealed_pa: Option<f64>,
    sealed_at_s: Option<f64>,
    outside_pa: f64,
}

impl Front {
    /// A front at the surface.
    pub fn new(plan: InfiltrationPlan) -> Self {
        Self {
            plan,
            per_pa: 0.0,
            through_at_s: None,
            used_up_at_s: None,
            sealed_pa: None,
            sealed_at_s: None,
            outside_pa: 0.0,
        }
    }

    /// The constants that follow from the work alone.
    pub fn plan(&self) -> &InfiltrationPlan {
        &self.plan
    }

    /// Depth of the front (m): it stops at the far side and when the coat is used up.
    pub fn depth_m(&self) -> f64 {
        self.plan.depth_m(self.per_pa)
    }

    /// Depth that time and temperature alone allow (m): not limited by wall or coat.
    pub fn predicted_depth_m(&self) -> f64 {
        self.plan.predicted_depth_m(self.per_pa)
    }

    /// When it reached the far side of the wall (s).
    pub fn through_at_s(&self) -> Option<f64> {
        self.through_at_s
    }

    /// When the coat was used up before the wall was full (s).
    pub fn coat_used_up_at_s(&self) -> Option<f64> {
        self.used_up_at_s
    }

    /// When glass sealed the surface (s).
    pub fn sealed_at_s(&self) -> Option<f64> {
        self.sealed_at_s
    }

    /// Upper bound of the pore volume that gas fills; `None` before the surface is sealed.
    pub fn trapped_share(&self) -> Option<f64> {
        let sealed = self.sealed_pa?;
        Some(trapped_share(sealed, self.outside_pa, self.plan.capillary_pa))
    }

    /// One step of `dt_s` that ends at `at_s`, when the flow had grown by `added` to `per_pa`.
    pub(super) fn step(&mut self, step: &FlowStep) {
        if step.added_per_pa <= 0.0 {
            return;
        }
        self.per_pa = step.per_pa;
        // Depth squared is proportional to the flow.
        let sealing = SEAL_SHARE * SEAL_SHARE * self.plan.wall_per_pa;
        if self.sealed_pa.is_none() && step.per_pa > sealing {
            self.sealed_pa = Some(step.pressure_pa);
            self.sealed_at_s = Some(step.at_s);
        }
        // Only flowing glass transmits the pressure; less than a millionth of the wall per second
        // does not count.
        if step.added_per_pa > 1e-6 * self.plan.wall_per_pa * step.dt_s {
            self.outside_pa = step.pressure_pa;
        }
        if self.plan.budget_per_pa < self.plan.wall_per_pa {
            mark(&mut self.used_up_at_s, self.plan.budget_per_pa, step);
        } else {
            mark(&mut self.through_at_s, self.plan.wall_per_pa, step);
        }
    }
}

/// One step of the flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FlowStep {
    pub(super) dt_s: f64,
    pub(super) at_s: f64,
    pub(super) added_per_pa: f64,
    pub(super) per_pa: f64,
    pub(super) pressure_pa: f64,
}

/// Records when the flow passed `goal`, interpolated within the step.
fn mark(at: &mut Option<f64>, goal: f64, step: &FlowStep) {
    if at.is_none() && step.per_pa >= goal {
        let past = ((step.per_pa - goal) / step.added_per_pa).clamp(0.0, 1.0);
        *at = Some(step.at_s - past * step.dt_s);
    }
}
