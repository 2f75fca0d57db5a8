//! What would have made a soak do: longer, or hotter, in numbers that a schedule takes.
//!
//! Each number that a schedule could have is tried with the rule that judges the firing, so that
//! the first that passes here passes when it is fired. What is not computed lies on the safe side:
//! the piece draws nearer to the sensor the longer and the hotter a soak is.

use super::FiringSummary;
use super::limits::CURE_MAX_S;
use crate::piece::{Flow, PieceState};
use crate::safe_side;
use crate::spec::STAGE_MAX_MIN;

/// What the same soak may differ by from one firing to the next (K): noise.
const RESERVE_K: f64 = 0.25;

/// What would make a soak do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cure {
    /// The soak for so many whole minutes more, at its setpoint.
    Longer {
        /// Minutes more.
        minutes: f64,
        /// Setpoint of the soak (°C).
        at_c: f64,
    },
    /// A soak, where there was none.
    Added {
        /// Whole minutes.
        minutes: f64,
        /// Highest setpoint (°C).
        at_c: f64,
    },
    /// A soak as long as it was, at a higher setpoint.
    Hotter {
        /// Lowest setpoint that would do (°C).
        at_c: f64,
        /// Highest that the furnace allows (°C).
        most_c: f64,
    },
    /// The hottest soak that the furnace allows, and for longer.
    HottestAndLonger {
        /// Minutes more.
        minutes: f64,
        /// Setpoint (°C).
        at_c: f64,
        /// Highest that the furnace allows (°C).
        most_c: f64,
    },
    /// None of these.
    OutOfReach {
        /// Most minutes more that were looked at.
        minutes: f64,
        /// Hottest setpoint that was looked at (°C).
        at_c: f64,
        /// Highest that the furnace allows (°C).
        most_c: f64,
    },
}

/// The soak that is to be changed.
struct Soak {
    setpoint_c: f64,
    /// What the piece had there at the least, in the mean and at the end (°C).
    piece_c: f64,
    seconds: f64,
    /// Time that a kelvin more takes on the way up and down again (s).
    way_s_per_k: f64,
}

/// The least change of a firing after which its flow (1/Pa), and the relative change of that a
/// kelvin (1/K), are `enough`.
pub(super) fn cure(
    firing: &FiringSummary,
    piece: &PieceState,
    flow: &Flow,
    enough: impl Fn(f64, f64) -> bool,
) -> Cure {
    let soak = Soak::of(firing, piece);
    let allowed = &firing.allowed;
    let left_s = |to_c: f64| {
        let way_s = (to_c - soak.setpoint_c) * soak.way_s_per_k;
        allowed.firing_max_s - firing.duration_s - way_s - 60.0
    };
    let most_minutes = |to_c: f64| {
        let left_min = left_s(to_c).min(CURE_MAX_S) / 60.0;
        safe_side::down(left_min.min(STAGE_MAX_MIN - soak.seconds / 60.0), 0).max(0.0)
    };
    let does = |to_c: f64, minutes: f64| {
        let piece_c = soak.piece_c + (to_c - soak.setpoint_c) - RESERVE_K;
        let moved = if to_c > soak.setpoint_c { soak.seconds } else { 0.0 };
        let (per_pa, per_k) =
            flow.with([(-moved, soak.piece_c), (moved, piece_c), (60.0 * minutes, piece_c)]);
        enough(per_pa, per_k)
    };
    let longer =
        |to_c: f64| safe_side::first(1.0, most_minutes(to_c), 0, |minutes| does(to_c, minutes));
    let at_c = soak.setpoint_c;
    if let Some(minutes) = longer(at_c) {
        let added = soak.seconds <= 0.0;
        return if added {
            Cure::Added { minutes, at_c }
        } else {
            Cure::Longer { minutes, at_c }
        };
    }
    let most_c = allowed.programme_max_c;
    let hotter = |to_c: &f64| soak.seconds > 0.0 && left_s(*to_c) > 0.0 && does(*to_c, 0.0);
    if let Some(at_c) = safe_side::first(at_c + 1.0, most_c, 0, |to_c| hotter(&to_c)) {
        return Cure::Hotter { at_c, most_c };
    }
    let at_c = safe_side::down(most_c, 0).max(at_c);
    match longer(at_c) {
        Some(minutes) => Cure::HottestAndLonger { minutes, at_c, most_c },
        None => Cure::OutOfReach { minutes: most_minutes(at_c), at_c, most_c },
    }
}

impl Soak {
    fn of(firing: &FiringSummary, piece: &PieceState) -> Self {
        match firing.hottest() {
            Some((soak, counted)) => Self {
                setpoint_c: soak.setpoint_c,
                piece_c: counted.piece_c,
                seconds: counted.seconds,
                way_s_per_k: 2.0 * soak.way_s_per_k,
            },
            None => {
                let hottest_c = piece.exposure.hottest.value;
                let setpoint_c = firing.highest_setpoint_c.unwrap_or(hottest_c);
                Self { setpoint_c, piece_c: hottest_c, seconds: 0.0, way_s_per_k: 0.0 }
            }
        }
    }
}
