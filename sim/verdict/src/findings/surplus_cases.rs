//! How far surplus glass runs at the best estimate, and with one input at a time one standard deviation
//! worse.
//!
//! The viscosity is not among the inputs: it slows the film and the pores alike.

use super::outer_glass::WorseInput;
use super::uncertainty::CONTACT_ANGLE_SD_DEG;
use saggar_plant::piece::{Film, InfiltrationPlan};
use saggar_plant::spec::{CoatSpec, UncertainValue, WorkSpec};

/// The input whose error takes the glass farthest, and how far (m).
pub(super) fn worst(work: &WorkSpec, coat: &CoatSpec, per_pa: f64) -> (WorseInput, f64) {
    let angle = coat.glass.contact_angle_deg;
    let mut flat = coat.clone();
    flat.glass.contact_angle_deg = (angle - CONTACT_ANGLE_SD_DEG).max(0.0);
    let thickness = coat.thickness_m;
    let thick = with_thickness(coat, thickness.value + thickness.sd());
    let radius = work.body.pore_radius_m;
    let mut fine = work.clone();
    fine.body.pore_radius_m.value *= libm::exp(-radius.relative_sd());
    let mut thin = work.clone();
    thin.wall_m.value = (work.wall_m.value - work.wall_m.sd()).max(0.0);
    let (flat_angle, thick_m) = (flat.glass.contact_angle_deg, thick.thickness_m.value);
    let (fine_m, thin_m) = (fine.body.pore_radius_m.value, thin.wall_m.value);
    let cases = [
        (
            WorseInput::Coat { best: thickness.value, worse: thick_m },
            run_m(work, &thick, per_pa),
        ),
        (
            WorseInput::PoreRadius { best: radius.value, worse: fine_m },
            run_m(&fine, coat, per_pa),
        ),
        (
            WorseInput::Wall { best: work.wall_m.value, worse: thin_m },
            run_m(&thin, coat, per_pa),
        ),
    ];
    let first = WorseInput::ContactAngle { best: angle, worse: flat_angle };
    let first = (first, run_m(work, &flat, per_pa));
    cases.into_iter().fold(first, |worst, case| if case.1 > worst.1 { case } else { worst })
}

/// The coat in another thickness. A tolerance in millimetres does not change with it.
pub(super) fn with_thickness(coat: &CoatSpec, metre: f64) -> CoatSpec {
    let thickness_m = UncertainValue { value: metre, ..coat.thickness_m };
    CoatSpec { thickness_m, ..coat.clone() }
}

/// How far the glass of a coat runs in a flow of `per_pa` (m).
pub(super) fn run_m(work: &WorkSpec, coat: &CoatSpec, per_pa: f64) -> f64 {
    let work = WorkSpec { coat: Some(coat.clone()), ..work.clone() };
    let plan = InfiltrationPlan::new(&work);
    let depth_m = |per_pa: f64| plan.map_or(0.0, |plan| plan.depth_m(per_pa));
    Film::of_coat(&work, coat).after(per_pa, depth_m).run_m()
}
