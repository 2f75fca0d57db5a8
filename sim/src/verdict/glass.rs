//! Infiltration: the front, how sure it is, the coat, the gas.

use saggar_core::sequencer::Ending;

use super::limits::{CURE_MAX_S, GAS_NOTE_SHARE, SURENESS_MIN, SURENESS_Z};
use super::sureness::{self, Heat, Sureness};
use super::{Detail, Finding, FiringSummary, Outcome, Subject, pass_if};
use crate::piece::{self, Flow, Front, PieceState};
use crate::spec::{CoatSpec, WorkSpec};

/// Pressure of the room (Pa).
const ROOM_PA: f64 = 101_325.0;

/// What would make a front pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cure {
    /// Soak longer by this many seconds, with the setpoint (°C).
    Longer {
        /// Extra soak (s).
        seconds: f64,
        /// Setpoint of the soak (°C).
        at_c: f64,
    },
    /// The soak is too cold for that; ten kelvin more give this much more flow, as a share.
    Hotter {
        /// Relative gain of ten kelvin.
        ten_k: f64,
    },
}

/// Nothing for a firing that infiltrates nothing.
pub(super) fn infiltration(
    work: &WorkSpec,
    piece: &PieceState,
    firing: &FiringSummary,
) -> Vec<Finding> {
    let (Some(coat), Some(flow), Some(front)) = (&work.coat, &piece.flow, &piece.front) else {
        return Vec::new();
    };
    let heat = Heat {
        flow_per_k: flow.sensitivity_per_k(),
        tolerance_k: firing.sensor_tolerance_k,
        gap_k: firing.soak.map_or(0.0, |soak| soak.sensor_minus_piece_k),
    };
    let ratio = flow.per_pa() / front.plan().wall_per_pa;
    let sureness = Sureness::of(libm::log(ratio), &work.body, coat, work.wall_m, heat);
    let mut found = vec![
        through(front, flow, piece, firing, &sureness),
        Finding::note(Subject::Sureness, sureness.probability, None)
            .with(Detail::Sureness(sureness)),
        coat_budget(work, coat),
    ];
    if let Some(share) = front.trapped_share() {
        let gas = Finding::at_most(Subject::TrappedGas, share, GAS_NOTE_SHARE, None);
        // One side of the wall is open: more gas is a remark, not a failure.
        let outcome = match gas.outcome {
            Outcome::Pass => Outcome::Pass,
            Outcome::Fail | Outcome::Note => Outcome::Note,
        };
        let in_air = piece::trapped_share(ROOM_PA, ROOM_PA, front.plan().capillary_pa);
        found.push(Finding { outcome, ..gas }.with(Detail::Gas { in_air }));
    }
    found
}

fn through(
    front: &Front,
    flow: &Flow,
    piece: &PieceState,
    firing: &FiringSummary,
    sureness: &Sureness,
) -> Finding {
    let good = front.through_at_s().is_some() && sureness.probability >= SURENESS_MIN;
    let used_up = front.used_up_at_s().is_some();
    let at_s = front.through_at_s().or(front.used_up_at_s()).or(flow.stiff_at_s());
    // More time adds no glass: a front that ran dry is cured by the coat alone.
    let needed = front.plan().wall_per_pa * libm::exp(SURENESS_Z * sureness.ln_sd);
    let missing = needed - flow.per_pa();
    // A firing that was cut short says nothing about its soak.
    let advise = missing > 0.0 && firing.ending == Some(Ending::Completed);
    let cure = advise.then(|| cure(missing, flow, piece, firing));
    let limit = front.plan().wall_m;
    let detail = Detail::Front {
        depth_m: front.depth_m(),
        used_up,
        probability: sureness.probability,
        cure,
    };
    Finding {
        outcome: pass_if(good),
        ..Finding::at_least(Subject::Infiltrated, front.potential_m(), limit, at_s)
    }
    .with(detail)
}

/// Extra soak at the temperature that the piece, not the sensor, had in the soak.
fn cure(missing: f64, flow: &Flow, piece: &PieceState, firing: &FiringSummary) -> Cure {
    let (at_c, piece_c) = match &firing.soak {
        Some(soak) => (soak.setpoint_c, soak.setpoint_c - soak.sensor_minus_piece_k),
        None => {
            let hottest_c = piece.exposure.hottest.value;
            (firing.highest_setpoint_c.unwrap_or(hottest_c), hottest_c)
        }
    };
    let seconds = missing / flow.glass().fluidity(piece_c);
    if seconds <= CURE_MAX_S {
        Cure::Longer { seconds, at_c }
    } else {
        let ten_k = flow.glass().fluidity(piece_c + 10.0) / flow.glass().fluidity(piece_c);
        Cure::Hotter { ten_k: ten_k - 1.0 }
    }
}

fn coat_budget(work: &WorkSpec, coat: &CoatSpec) -> Finding {
    let wall = work.wall_m.value;
    let ratio = piece::budget_ratio(&work.body, coat, wall);
    let (probability, ln_sd) = sureness::budget(ratio, coat, work.wall_m);
    let pores_m3 = work.area_m2 * wall * work.body.porosity;
    let detail = Detail::Budget {
        probability,
        left_over_m3: pores_m3 * (ratio - 1.0).max(0.0),
        enough_m: coat.thickness_m.value * libm::exp(SURENESS_Z * ln_sd) / ratio,
    };
    Finding {
        outcome: pass_if(probability >= SURENESS_MIN),
        ..Finding::at_least(Subject::CoatBudget, ratio, 1.0, None)
    }
    .with(detail)
}
