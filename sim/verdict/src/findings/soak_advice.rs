//! The longer or hotter soak that would have been enough, in numbers that a schedule accepts.
//!
//! The candidates are tried in order with the rule that assesses the firing, so the first that passes
//! here also passes when it is fired. The error of the estimate is on the safe side: the longer and
//! hotter a soak is, the closer the piece gets to the sensor.

use super::limits::EXTRA_SOAK_MAX_S;
use super::summary::FiringSummary;
use crate::rounding;
use saggar_plant::piece::{Flow, FlowTotals, Piece};
use saggar_plant::spec::STAGE_MAX_MIN;

/// Reserve for the difference between two firings of the same soak (K): noise.
const RESERVE_K: f64 = 0.25;

/// A soak that would be enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SoakAdvice {
    /// The same setpoint for more whole minutes.
    Longer {
        /// Extra minutes.
        minutes: f64,
        /// Setpoint of the soak (°C).
        at_c: f64,
    },
    /// A soak where the programme has none.
    Added {
        /// Whole minutes.
        minutes: f64,
        /// Setpoint (°C).
        at_c: f64,
        /// Highest setpoint that the furnace allows (°C).
        max_c: f64,
    },
    /// A soak as long as it was, at a higher setpoint.
    Hotter {
        /// Lowest setpoint that is hot enough (°C).
        at_c: f64,
        /// Highest setpoint that the furnace allows (°C).
        max_c: f64,
    },
    /// The hottest soak that the furnace allows, and for longer.
    HottestAndLonger {
        /// Extra minutes.
        minutes: f64,
        /// Setpoint (°C).
        at_c: f64,
        /// Highest setpoint that the furnace allows (°C).
        max_c: f64,
    },
    /// No soak within the furnace's limits.
    OutOfReach {
        /// Largest number of extra minutes that was tried.
        minutes: f64,
        /// Hottest setpoint that was tried (°C).
        at_c: f64,
        /// Highest setpoint that the furnace allows (°C).
        max_c: f64,
    },
}

/// The soak that is to be changed.
struct HottestSoak {
    setpoint_c: f64,
    /// Lower of the piece's mean and final temperature in the soak (°C).
    piece_c: f64,
    seconds: f64,
    /// Extra time per kelvin on the way up and down (s/K).
    way_s_per_k: f64,
}

/// How a longer or hotter soak changes the time and temperature of the piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SoakChange {
    /// Time at `from_c` that is spent at `to_c` instead (s).
    pub(super) moved_s: f64,
    /// Temperature of the piece in the soak (°C).
    pub(super) from_c: f64,
    /// Temperature of the piece in the changed soak (°C).
    pub(super) to_c: f64,
    /// Extra time at `to_c` (s).
    pub(super) more_s: f64,
}

impl SoakChange {
    /// The flow after the change.
    pub(super) fn of_flow(&self, flow: &Flow) -> FlowTotals {
        let Self { moved_s, from_c, to_c, more_s } = *self;
        flow.with_time_at([(-moved_s, from_c), (moved_s + more_s, to_c)])
    }
}

/// The smallest change of the firing that passes the test.
pub(super) fn soak_advice(
    firing: &FiringSummary,
    piece: &Piece,
    passes: impl Fn(&SoakChange) -> bool,
) -> SoakAdvice {
    let soak = HottestSoak::of(firing, piece);
    let allowed = &firing.limits;
    let left_s = |to_c: f64| {
        let way_s = (to_c - soak.setpoint_c) * soak.way_s_per_k;
        allowed.firing_max_s - firing.duration_s - way_s - 60.0
    };
    let most_minutes = |to_c: f64| {
        let left_min = left_s(to_c).min(EXTRA_SOAK_MAX_S) / 60.0;
        rounding::down(left_min.min(STAGE_MAX_MIN - soak.seconds / 60.0), 0).max(0.0)
    };
    let changed = |setpoint_c: f64, minutes: f64| {
        let hotter_k = setpoint_c - soak.setpoint_c;
        passes(&SoakChange {
            moved_s: if hotter_k > 0.0 { soak.seconds } else { 0.0 },
            from_c: soak.piece_c,
            to_c: soak.piece_c + hotter_k - RESERVE_K,
            more_s: 60.0 * minutes,
        })
    };
    let longer = |to_c: f64| {
        rounding::first_passing(1.0, most_minutes(to_c), 0, |minutes| changed(to_c, minutes))
    };
    let (at_c, most_c) = (soak.setpoint_c, allowed.programme_max_c);
    let soaked = soak.seconds > 0.0;
    match longer(at_c) {
        Some(minutes) if soaked => return SoakAdvice::Longer { minutes, at_c },
        Some(minutes) => return SoakAdvice::Added { minutes, at_c, max_c: most_c },
        None => {}
    }
    let hotter = |to_c: f64| soaked && left_s(to_c) > 0.0 && changed(to_c, 0.0);
    if let Some(at_c) = rounding::first_passing(at_c + 1.0, most_c, 0, hotter) {
        return SoakAdvice::Hotter { at_c, max_c: most_c };
    }
    let at_c = rounding::down(most_c, 0).max(at_c);
    match longer(at_c) {
        Some(minutes) if soaked => {
            SoakAdvice::HottestAndLonger { minutes, at_c, max_c: most_c }
        }
        Some(minutes) => SoakAdvice::Added { minutes, at_c, max_c: most_c },
        None => SoakAdvice::OutOfReach { minutes: most_minutes(at_c), at_c, max_c: most_c },
    }
}

impl HottestSoak {
    fn of(firing: &FiringSummary, piece: &Piece) -> Self {
        match firing.hottest() {
            Some((soak, counted)) => Self {
                setpoint_c: soak.setpoint_c,
                piece_c: counted.piece_c,
                seconds: counted.seconds,
                way_s_per_k: 2.0 * soak.ramp_s_per_k,
            },
            None => {
                let hottest_c = piece.hottest.value;
                let setpoint_c = firing.setpoint_max_c.unwrap_or(hottest_c);
                Self { setpoint_c, piece_c: hottest_c, seconds: 0.0, way_s_per_k: 0.0 }
            }
        }
    }
}
