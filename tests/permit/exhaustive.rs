//! The permit over the whole product of its inputs, each reduced to values below, at and above every
//! threshold that it is compared with, and to those that no comparison expects.

use saggar_core::estimate::{ChannelEstimate, Estimate};
use saggar_core::furnace::Furnace;
use saggar_core::interlock::{Interlock, InterlockInputs};
use saggar_core::sensors::SensorFault;
use saggar_core::sequencer::{Demand, Setpoint};

use super::healthy;
use crate::support::{PROVEN_DEMAND, celsius, furnace};

type Channel = Result<ChannelEstimate, SensorFault>;

/// Reading of the control channel (°C). The limit channel reads around it.
const CONTROL_C: f32 = 880.0;

/// Worst case that is below every limit (°C).
const LOW_C: f32 = 890.0;

/// Numbers that no comparison expects.
const ODD: [f32; 3] = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY];

/// Maximum setpoint of the programme (°C), allowed overshoot and difference of the channels (K).
const HIGHEST_C: f32 = 900.0;
const OVERSHOOT_K: f32 = 15.0;
const DISAGREE_K: f32 = 40.0;

/// The values of one grid.
struct Grid {
    /// Values of the furnace's maximum (°C): far above the ceilings, and below that of the limit channel.
    furnace_max_c: &'static [f32],
    /// Values of every other limit next to its usual one.
    odd: &'static [f32],
    /// Worst cases of a channel, besides those at its thresholds (°C).
    worst_c: &'static [f32],
    /// Setpoints of the demand (°C).
    setpoints: &'static [Option<f32>],
    /// Whether the closure and the vacuum are overdue.
    overdue: &'static [(bool, bool)],
}

/// Each number once in the same order: the usual one, then the odd ones.
fn usual_and(odd: &[f32], usual: f32) -> impl Iterator<Item = f32> + '_ {
    std::iter::once(usual).chain(odd.iter().copied())
}

/// The number, the next below and the next above it.
fn around(threshold: f32) -> [f32; 3] {
    [threshold.next_down(), threshold, threshold.next_up()]
}

/// A channel with each fault, and with each worst case, reading and kind of bound.
fn channels(worst_c: &[f32], reads_c: &[f32]) -> Vec<Channel> {
    let faults = [SensorFault::Missing, SensorFault::Open, SensorFault::Implausible].map(Err);
    let mut list = Vec::from(faults);
    for (worst, reads) in worst_c.iter().flat_map(|w| reads_c.iter().map(move |r| (*w, *r))) {
        list.extend([false, true].map(|is_upper_bound| {
            Ok(ChannelEstimate {
                celsius: celsius(reads),
                rate_k_per_s: 0.5,
                worst_case: celsius(worst),
                is_upper_bound,
            })
        }));
    }
    list
}

/// Every pair of channels on this furnace. A limit that is no number has no values around it: those of the
/// usual one stand for it.
fn estimates(grid: &Grid, furnace: &Furnace) -> Vec<Estimate> {
    let worst = |ceiling_c: f32| {
        let mut list = vec![LOW_C];
        list.extend(grid.worst_c);
        list.extend(around(ceiling_c).iter().chain(&around(furnace.limits.furnace_max.get())));
        list
    };
    let control = channels(&worst(HIGHEST_C + OVERSHOOT_K), &[CONTROL_C]);
    let [below, above] = [CONTROL_C - DISAGREE_K, CONTROL_C + DISAGREE_K].map(around);
    let reads: Vec<f32> = [below, above].concat().into_iter().chain([CONTROL_C]).collect();
    let limit = channels(&worst(HIGHEST_C + OVERSHOOT_K + DISAGREE_K), &reads);
    let pairs = |control: &Channel| {
        let control = *control;
        limit.iter().map(move |limit| Estimate { control, limit: *limit }).collect::<Vec<_>>()
    };
    control.iter().flat_map(pairs).collect()
}

/// Every demand of the grid.
fn demands(grid: &Grid) -> Vec<Demand> {
    let mut list = Vec::new();
    for (firing, setpoint) in
        [false, true].into_iter().flat_map(|f| grid.setpoints.iter().map(move |s| (f, *s)))
    {
        list.extend(grid.overdue.iter().map(|(closure_overdue, vacuum_overdue)| Demand {
            firing,
            setpoint: setpoint.map(Setpoint::steady),
            closure_overdue: *closure_overdue,
            vacuum_overdue: *vacuum_overdue,
            ..PROVEN_DEMAND
        }));
    }
    list
}

/// How far the worst case of a channel stays below its two limits, and the lower of the two (K).
fn room_k(channel: &ChannelEstimate, furnace: &Furnace, ceiling_c: f64) -> (f64, f64) {
    let worst = f64::from(channel.worst_case.get());
    (f64::from(furnace.limits.furnace_max.get()) - worst, ceiling_c - worst)
}

/// Whether heat is proven safe, said the other way round than the interlock says it: in distances, which
/// must be above zero, and in double precision.
fn proven(furnace: &Furnace, inputs: &InterlockInputs<'_>) -> bool {
    let (Ok(control), Ok(limit)) = (inputs.estimate.control, inputs.estimate.limit) else {
        return false;
    };
    let demand = inputs.demand;
    let obstacles = [
        !demand.firing || demand.setpoint.is_none() || demand.closure_overdue,
        demand.vacuum_overdue || !inputs.shut || !inputs.on_time,
        !inputs.programme_intact || !inputs.furnace_intact || control.is_upper_bound,
    ];
    let allowed_k = f64::from(furnace.limits.disagree_max_k);
    let ceiling_c =
        f64::from(inputs.setpoint_max_c) + f64::from(furnace.limits.overshoot_max_k);
    let (furnace_room, control_room) = room_k(&control, furnace, ceiling_c);
    let (other_furnace_room, limit_room) = room_k(&limit, furnace, ceiling_c + allowed_k);
    // A limit channel at its floor says nothing of a lower ceiling, if the ceiling is a number at all.
    let floor = limit.is_upper_bound;
    let limit_room = if floor && limit_room.is_finite() { 1.0 } else { limit_room };
    let apart_k = f64::from(limit.celsius.get()) - f64::from(control.celsius.get());
    let near = allowed_k + apart_k >= 0.0 && (floor || allowed_k - apart_k >= 0.0);
    let rooms = [furnace_room, other_furnace_room, control_room, limit_room];
    !obstacles.contains(&true) && near && rooms.iter().all(|room| *room > 0.0)
}

/// Calls `each` with every furnace and every maximum setpoint of the grid.
fn for_each_furnace(grid: &Grid, mut each: impl FnMut(&Furnace, f32)) {
    for (furnace_max, overshoot) in grid
        .furnace_max_c
        .iter()
        .flat_map(|max| usual_and(grid.odd, OVERSHOOT_K).map(move |k| (*max, k)))
    {
        for (disagree, highest) in usual_and(grid.odd, DISAGREE_K)
            .flat_map(|k| usual_and(grid.odd, HIGHEST_C).map(move |c| (k, c)))
        {
            let mut furnace = furnace();
            furnace.limits.furnace_max = celsius(furnace_max);
            furnace.limits.overshoot_max_k = overshoot;
            furnace.limits.disagree_max_k = disagree;
            each(&furnace, highest);
        }
    }
}

/// Evaluates the whole product, each combination with a new interlock, and compares both ways. Returns the
/// number of combinations and of permits.
fn evaluate(grid: &Grid) -> (u64, u64) {
    let (mut combinations, mut permits) = (0, 0);
    let demands = demands(grid);
    for_each_furnace(grid, |furnace, highest_c| {
        for estimate in estimates(grid, furnace) {
            for (demand, flags) in demands.iter().flat_map(|d| (0..16u8).map(move |f| (d, f))) {
                let inputs = InterlockInputs {
                    demand,
                    shut: flags & 1 != 0,
                    shut_too_early: false,
                    on_time: flags & 2 != 0,
                    programme_intact: flags & 4 != 0,
                    furnace_intact: flags & 8 != 0,
                    ..healthy(&estimate, highest_c)
                };
                let permit = Interlock::default().evaluate(furnace, &inputs).is_ok();
                assert!(
                    permit == proven(furnace, &inputs),
                    "permit: {permit}, {:?}, {inputs:?}",
                    furnace.limits
                );
                combinations += 1;
                permits += u64::from(permit);
            }
        }
    });
    (combinations, permits)
}

/// A permit is granted if, and only if, everything is proven.
#[test]
fn a_permit_is_exactly_what_is_proven() {
    let grid = Grid {
        furnace_max_c: &[1200.0, 930.0],
        odd: &ODD,
        worst_c: &[],
        setpoints: &[None, Some(880.0)],
        overdue: &[(false, false)],
    };
    assert_eq!(evaluate(&grid), (14_065_664, 2_945));
}

/// The same with more values of each kind.
#[test]
#[ignore = "a minute; .ci/run calls it"]
fn full_grid_of_the_permit() {
    let grid = Grid {
        furnace_max_c: &[1200.0, 930.0, 3.0e38],
        odd: &[f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -1.0],
        worst_c: &[-1.0e30],
        setpoints: &[None, Some(f32::NAN)],
        overdue: &[(false, false), (false, true), (true, false)],
    };
    assert_eq!(evaluate(&grid), (157_320_000, 15_250));
}
