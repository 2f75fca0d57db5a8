//! Melt-back: whether the blasted surface levelled, and whether the model can tell so at all.
//!
//! The height of the roughness decays exponentially with the flow of the glass. Where the flow is many times
//! what the limit needs, the result is the same for any firing near this one, so it says nothing about it.

use super::finding::{Finding, Outcome};
use super::limits::{LEVELLED_TIMES_MAX, ROUGHNESS_MAX_M};
use super::outer_glass::{LeastSoak, MeltBackFinding};
use super::soak_advice::soak_advice;
use super::subject::Subject;
use super::summary::FiringSummary;
use crate::rounding;
use saggar_plant::piece::{Flow, MeltBack, Piece};
use saggar_plant::spec::{ROUGHNESS_MICROMETRE, STAGE_MAX_MIN, WorkSpec};

/// How much farther a piece stays behind the sensor for each kelvin that the soak is colder (K/K): twice
/// what twelve minutes in the lift furnace of the examples show, 0.010 from 760 to 1100 °C.
const GAP_GROWTH: f64 = 0.02;

/// What a smoother surface is judged like (m): a blasted one. The flow that the limit needs goes to zero with the
/// distance of the roughness from it, and a ripple that is finer decays faster, so measured against its own need a
/// smooth surface would be levelled any number of times over. Yet what the heat does to edges and margins,
/// which is what the model cannot tell, has nothing to do with the roughness.
const REFERENCE_M: f64 = ROUGHNESS_MICROMETRE * 1e-6;

/// `None` for work without a roughness to melt back. Infiltrated work with a roughness but without
/// a glass fails, because its result cannot be computed.
pub(super) fn melt_back(
    work: &WorkSpec,
    piece: &Piece,
    firing: &FiringSummary,
) -> Option<Finding> {
    if !work.infiltrated || work.roughness_m <= 0.0 {
        return None;
    }
    let (Some(melt_back), Some(flow)) = (&piece.melt_back, &piece.flow) else {
        let rough =
            Finding::note(Subject::MeltBack(MeltBackFinding::NoGlass), work.roughness_m, None);
        return Some(Finding { outcome: Outcome::Fail, ..rough });
    };
    let needed_per_pa = melt_back.needed_per_pa(ROUGHNESS_MAX_M);
    let times = times(work, flow);
    let even_m = (work.roughness_m < REFERENCE_M).then_some(REFERENCE_M);
    let left_m = melt_back.left_m(flow.per_pa());
    let found =
        |subject| Finding::at_most(Subject::MeltBack(subject), left_m, ROUGHNESS_MAX_M, None);
    if times > LEVELLED_TIMES_MAX {
        let least = least_soak(firing, piece, flow, needed_per_pa);
        let found = found(MeltBackFinding::Indistinct { times, even_m, least });
        return Some(Finding { outcome: Outcome::NotKnown, ..found });
    }
    let levels = |per_pa: f64| melt_back.left_m(per_pa) <= ROUGHNESS_MAX_M;
    let advise = !levels(flow.per_pa()) && !firing.was_cut_short();
    let advice = advise
        .then(|| soak_advice(firing, piece, |change| levels(change.of_flow(flow).per_pa)));
    Some(found(MeltBackFinding::Computed { times, even_m, advice }))
}

/// How many times over the flow levels the surface; 0 for one that is smooth already.
fn times(work: &WorkSpec, flow: &Flow) -> f64 {
    if work.roughness_m <= ROUGHNESS_MAX_M {
        return 0.0;
    }
    let roughness_m = work.roughness_m.max(REFERENCE_M);
    let reference = MeltBack::new(&WorkSpec { roughness_m, ..work.clone() });
    reference.map_or(0.0, |reference| flow.per_pa() / reference.needed_per_pa(ROUGHNESS_MAX_M))
}

/// The lowest setpoint of a soak as long, and the shortest of one as hot, that give the needed flow.
fn least_soak(
    firing: &FiringSummary,
    piece: &Piece,
    flow: &Flow,
    needed_per_pa: f64,
) -> LeastSoak {
    let (setpoint_c, piece_c, seconds) = match firing.hottest() {
        Some((soak, counted)) => (soak.setpoint_c, counted.piece_c, counted.seconds),
        None => (piece.hottest.value, piece.hottest.value, 0.0),
    };
    let gives = |at_c: f64, seconds: f64| {
        let colder_k = (setpoint_c - at_c) * (1.0 + GAP_GROWTH);
        seconds * flow.glass().fluidity(piece_c - colder_k) >= needed_per_pa
    };
    let lowest_c = rounding::up(flow.glass().transition_c, 0);
    let as_long = (seconds > 0.0)
        .then(|| rounding::first_passing(lowest_c, setpoint_c, 0, |c| gives(c, seconds)))
        .flatten()
        .map(|c| (c, seconds / 60.0));
    let minutes = rounding::first_passing(1.0, STAGE_MAX_MIN, 0, |minutes| {
        gives(setpoint_c, 60.0 * minutes)
    });
    LeastSoak { as_long, as_hot: (minutes.unwrap_or(STAGE_MAX_MIN), setpoint_c) }
}
