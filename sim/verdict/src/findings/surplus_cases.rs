//! How far surplus glass runs with 90 % confidence.
//!
//! The run is far from linear in its inputs: nothing moves below a critical volume, and much does beyond it. The
//! root of the sum of the squares of what a standard deviation of each input adds, times 1.28, is exceeded by up
//! to one draw in five, not one in ten. So the inputs are varied together, at fixed points that fill the space of
//! their errors evenly.

use super::limits::CONFIDENCE_MIN;
use super::outer_glass::SurplusInput;
use super::uncertainty::{
    CONTACT_ANGLE_MAX_DEG, CONTACT_ANGLE_SD_DEG, POROSITY_SD, TORTUOSITY_SD,
};
use saggar_plant::piece::{Film, InfiltrationPlan};
use saggar_plant::spec::{CoatSpec, UncertainValue, WorkSpec};

/// Points at which all inputs are varied. With these the share of random draws beyond the likely run is
/// ten percent within half a point (`tests/surplus_draws.rs`).
const POINTS: u16 = 600;

/// A normal variable stays below this many standard deviations with 90 % confidence.
const DEVIATIONS: f64 = 1.281_551_6;

/// The inputs, in the order of [`Worse`].
const INPUTS: [SurplusInput; 7] = [
    SurplusInput::ContactAngle,
    SurplusInput::Coat,
    SurplusInput::PoreRadius,
    SurplusInput::Viscosity,
    SurplusInput::Wall,
    SurplusInput::Porosity,
    SurplusInput::Tortuosity,
];

/// How many standard deviations each input is worse.
type Worse = [f64; INPUTS.len()];

/// How far the glass runs with 90 % confidence (m). A NaN if any case is one.
pub(super) fn likely_run_m(work: &WorkSpec, coat: &CoatSpec, per_pa: f64) -> f64 {
    let runs = (1..=POINTS).map(|point| worse_run_m(work, coat, per_pa, &worse_at(point)));
    let mut runs: Vec<f64> = runs.collect();
    if runs.iter().any(|run_m| run_m.is_nan()) {
        return f64::NAN;
    }
    runs.sort_by(f64::total_cmp);
    let within = (CONFIDENCE_MIN * f64::from(POINTS)).ceil() as usize;
    runs.get(within).copied().unwrap_or(f64::NAN)
}

/// The input that by itself takes the glass farthest, 90 % of its errors considered, and its share of the sum of
/// the squares.
pub(super) fn largest(work: &WorkSpec, coat: &CoatSpec, per_pa: f64) -> (SurplusInput, f64) {
    let best_m = run_m(work, coat, per_pa);
    let added_m = |at: usize| {
        let mut worse = [0.0; INPUTS.len()];
        worse[at] = DEVIATIONS;
        (worse_run_m(work, coat, per_pa, &worse) - best_m).max(0.0)
    };
    let mut most = (INPUTS[0], 0.0);
    let mut squares = 0.0;
    for (at, input) in INPUTS.into_iter().enumerate() {
        let square = added_m(at) * added_m(at);
        squares += square;
        if square > most.1 {
            most = (input, square);
        }
    }
    (most.0, if squares > 0.0 { most.1 / squares } else { 1.0 })
}

/// One of the points: multiples of square roots of primes, less their whole parts, fill a cube evenly
/// (Richtmyer's sequence, from memory), and pairs of them become normal as Box and Muller say.
fn worse_at(point: u16) -> Worse {
    let evenly = |prime: f64| {
        let multiple = f64::from(point) * prime.sqrt();
        multiple - multiple.floor()
    };
    let pair = |first: f64, second: f64| {
        let radius = (-2.0 * libm::log(1.0 - evenly(first))).sqrt();
        let angle = core::f64::consts::TAU * evenly(second);
        (radius * libm::cos(angle), radius * libm::sin(angle))
    };
    let (a, b) = pair(2.0, 3.0);
    let (c, d) = pair(5.0, 7.0);
    let (e, f) = pair(11.0, 13.0);
    [a, b, c, d, e, f, pair(17.0, 19.0).0]
}

/// How far it runs (m) with the inputs so much worse.
fn worse_run_m(work: &WorkSpec, coat: &CoatSpec, per_pa: f64, worse: &Worse) -> f64 {
    let [angle, thickness, radius, fluidity, wall, pores, turns] = *worse;
    let mut coat = coat.clone();
    let angle_deg = coat.glass.contact_angle_deg - CONTACT_ANGLE_SD_DEG * angle;
    coat.glass.contact_angle_deg = angle_deg.clamp(0.0, CONTACT_ANGLE_MAX_DEG);
    coat.thickness_m.value *= libm::exp(coat.thickness_m.relative_sd() * thickness);
    let mut work = work.clone();
    work.wall_m.value *= libm::exp(-work.wall_m.relative_sd() * wall);
    let body = &mut work.body;
    body.pore_radius_m.value *= libm::exp(-body.pore_radius_m.relative_sd() * radius);
    body.tortuosity *= libm::exp(TORTUOSITY_SD * turns);
    body.porosity *= libm::exp(-POROSITY_SD * pores);
    // The errors of radius and viscosity may be tied.
    let tie = body.radius_viscosity_correlation;
    let own = (1.0 - tie * tie).max(0.0).sqrt();
    let log10 = coat.glass.log10_sd * (tie * radius + own * fluidity);
    run_m(&work, &coat, per_pa * libm::pow(10.0, log10))
}

/// The coat in another thickness. A tolerance in millimetres does not change with it.
pub(super) fn with_thickness(coat: &CoatSpec, metre: f64) -> CoatSpec {
    let thickness_m = UncertainValue { value: metre, ..coat.thickness_m };
    CoatSpec { thickness_m, ..coat.clone() }
}

/// How far the glass of a coat runs in a flow of `per_pa` (m).
pub(super) fn run_m(work: &WorkSpec, coat: &CoatSpec, per_pa: f64) -> f64 {
    let inputs = [
        per_pa,
        coat.glass.contact_angle_deg,
        coat.thickness_m.value,
        work.wall_m.value,
        work.body.pore_radius_m.value,
        work.body.porosity,
        work.body.tortuosity,
    ];
    if inputs.iter().any(|input| input.is_nan()) {
        // The film takes the larger of numbers, which loses a NaN.
        return f64::NAN;
    }
    let work = WorkSpec { coat: Some(coat.clone()), ..work.clone() };
    let plan = InfiltrationPlan::new(&work);
    let depth_m = |per_pa: f64| plan.map_or(0.0, |plan| plan.depth_m(per_pa));
    Film::of_coat(&work, coat).after(per_pa, depth_m).run_m()
}
