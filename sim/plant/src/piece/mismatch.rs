//! Stress in the glass on a body that contracts differently: a first estimate.
//!
//! Below its transition the glass no longer flows, and must follow the body on cooling. A thin layer on a
//! thick body then has the stress `E / (1 − ν) · (αglass − αbody) · (T − 20 °C)`, alike in both directions
//! and tension positive: the limit of Timoshenko's bimetal (J. Opt. Soc. Am. 11 (1925) 233) for a thin
//! layer, biaxial. No stress relaxes below the transition, and none arises above it.

use crate::spec::{BodySpec, GlassSpec, WorkSpec};

/// Temperature at which the stress is stated (°C).
const ROOM_C: f64 = 20.0;

/// Stress in a thin layer of the glass on a thick body, at room temperature (Pa).
pub fn mismatch_pa(glass: &GlassSpec, body_per_k: f64) -> f64 {
    let strain = (glass.expansion_per_k - body_per_k) * (glass.transition_c - ROOM_C);
    glass.young_pa / (1.0 - glass.poisson) * strain
}

/// Expansion of the body once its pores are full of glass (1/K): the library's value for a body that is
/// infiltrated in this firing, and the work's own for one that was before.
pub fn infiltrated_expansion_per_k(work: &WorkSpec) -> f64 {
    let body = &work.body;
    let filled = BodySpec::named(&format!("{}-infiltrated", body.name));
    match filled {
        Some(filled) if !work.infiltrated => filled.expansion_per_k,
        _ => body.expansion_per_k,
    }
}
