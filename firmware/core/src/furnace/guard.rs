//! Checks that the furnace's data in memory stay those that were loaded. It reads one group of fields in
//! every second tick, so that a pass takes 4.6 s, and starts over at the end.

use serde::Serialize;

use super::{Closure, FeedForward, Furnace, Gains, Heater, Limits, TABLE_POINTS_MAX};

/// Number of groups into which the fields are divided: those outside the tables, and one for each point
/// that a table can have.
const FURNACE_GROUPS: u8 = FIRST_GAINS + TABLE_POINTS;

/// Number of ticks that a pass over the furnace's data takes.
pub const FURNACE_PASS_TICKS: u8 = 2 * FURNACE_GROUPS;

/// The first group of the feed-forward table, and of the gain table.
const FIRST_FEED_FORWARD: u8 = 7;
const FIRST_GAINS: u8 = FIRST_FEED_FORWARD + TABLE_POINTS;

#[expect(clippy::cast_possible_truncation, reason = "eight")]
const TABLE_POINTS: u8 = TABLE_POINTS_MAX as u8;

/// Words of a group.
type Group = [u32; 4];

/// A repeated check of the furnace's data, one group in every second tick.
#[derive(Clone, Debug)]
pub struct FurnaceGuard {
    expected: u32,
    sum: u32,
    /// Ticks of this pass.
    position: u8,
    intact: bool,
}

/// The state of a guard for a snapshot. The sums can be computed from the furnace's data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "restore", derive(serde::Deserialize))]
pub struct FurnaceGuardPosition {
    /// Ticks of this pass.
    position: u8,
    intact: bool,
}

impl FurnaceGuard {
    /// A guard for the data in their present state.
    pub fn new(furnace: &Furnace) -> Self {
        Self { expected: sum_below(furnace, FURNACE_GROUPS), sum: 0, position: 0, intact: true }
    }

    /// The state of the guard, for a snapshot.
    pub const fn position(&self) -> FurnaceGuardPosition {
        FurnaceGuardPosition { position: self.position, intact: self.intact }
    }

    /// A guard that continues from a saved position.
    #[cfg(feature = "restore")]
    pub fn resume(furnace: &Furnace, saved: FurnaceGuardPosition) -> Self {
        let FurnaceGuardPosition { position, intact } = saved;
        Self {
            sum: sum_below(furnace, position.div_ceil(2)),
            position,
            intact,
            ..Self::new(furnace)
        }
    }

    /// Checks one more group in every second call. Returns false, from then on, once a change has been found.
    pub fn check_next_group(&mut self, furnace: &Furnace) -> bool {
        if self.position.is_multiple_of(2) {
            self.sum = fold(self.sum, group(furnace, self.position / 2));
        }
        self.position = self.position.wrapping_add(1);
        if self.position >= FURNACE_PASS_TICKS {
            self.intact &= self.sum == self.expected;
            (self.sum, self.position) = (0, 0);
        }
        self.intact
    }

    /// True between two passes.
    pub const fn is_between_passes(&self) -> bool {
        self.position == 0
    }

    /// Checks all data at once. Returns false, from then on, once a change has been found.
    #[cold]
    #[inline(never)]
    pub fn check_all(&mut self, furnace: &Furnace) -> bool {
        self.intact &= sum_below(furnace, FURNACE_GROUPS) == self.expected;
        self.intact
    }
}

/// The sum over all groups before this one.
fn sum_below(furnace: &Furnace, end: u8) -> u32 {
    (0..end).fold(0, |sum, index| fold(sum, group(furnace, index)))
}

/// Folds a group into a sum. Each word is mixed in by steps that can be undone (exclusive or, rotation,
/// product with an odd number), so a change within one word always changes the sum. A CRC would promise
/// the same and take six times as long.
fn fold(sum: u32, group: Group) -> u32 {
    group.into_iter().fold(sum, |sum, word| (sum.rotate_left(5) ^ word).wrapping_mul(ODD))
}

/// The golden ratio of 32 bits, a multiplier that spreads every bit.
const ODD: u32 = 0x9E37_79B9;

/// The fields of one group. Zeros for a point that a table does not have.
fn group(furnace: &Furnace, index: u8) -> Group {
    if index >= FIRST_GAINS {
        let point = furnace.gains.get(usize::from(index.wrapping_sub(FIRST_GAINS)));
        return point.map_or([0; 4], gains_words);
    }
    if index >= FIRST_FEED_FORWARD {
        let point = index.wrapping_sub(FIRST_FEED_FORWARD);
        let point = furnace.heater.feed_forward.get(usize::from(point));
        return point.map_or([0; 4], feed_forward_words);
    }
    // Without `..`, here and below, so that a new field cannot be forgotten.
    let Furnace { control_sensor, limit_sensor, limits, heater, gains, vacuum, closure } =
        furnace;
    let closure = match closure {
        Closure::Lift => 0,
        Closure::Door => 1,
    };
    match index {
        0 => [
            control_sensor.kind as u32,
            control_sensor.correction_mk.cast_unsigned(),
            limit_sensor.kind as u32,
            limit_sensor.correction_mk.cast_unsigned(),
        ],
        1..=3 => limits_words(limits, closure, index),
        // `None` differs from every pressure: none is so high.
        4 => [
            vacuum.map_or(u32::MAX, |system| system.pressure_min_pa),
            length(heater.feed_forward.len()),
            length(gains.len()),
            0,
        ],
        _ => heater_words(heater, index),
    }
}

fn limits_words(limits: &Limits, closure: u32, index: u8) -> Group {
    let Limits {
        furnace_max,
        programme_max,
        overshoot_max_k,
        ramp_max_k_per_min,
        slew_max_k_per_s,
        disagree_max_k,
        settled_difference_max_k,
        start_below,
        open_below,
        vent_below,
        firing_max_s,
    } = limits;
    match index {
        1 => [
            furnace_max.get().to_bits(),
            programme_max.get().to_bits(),
            overshoot_max_k.to_bits(),
            ramp_max_k_per_min.to_bits(),
        ],
        2 => [
            slew_max_k_per_s.to_bits(),
            disagree_max_k.to_bits(),
            settled_difference_max_k.to_bits(),
            start_below.get().to_bits(),
        ],
        _ => [open_below.get().to_bits(), vent_below.get().to_bits(), *firing_max_s, closure],
    }
}

fn heater_words(heater: &Heater, index: u8) -> Group {
    let Heater {
        rated_w,
        mains_hz,
        conducting_ma,
        full_current_ma,
        auxiliary_contact,
        counts_crossings,
        stored_heat,
        feed_forward: _,
    } = heater;
    let inputs = u32::from(*auxiliary_contact)
        | u32::from(*counts_crossings) << 1
        | u32::from(full_current_ma.is_some()) << 2;
    if index == 5 {
        let full_current_ma = full_current_ma.unwrap_or(0);
        return [rated_w.to_bits(), *conducting_ma, full_current_ma, inputs];
    }
    [
        stored_heat.element_j_per_k.to_bits(),
        stored_heat.element_w_per_k4.to_bits(),
        stored_heat.muffle_j_per_k.to_bits(),
        u32::from(*mains_hz),
    ]
}

fn feed_forward_words(point: &FeedForward) -> Group {
    [
        point.at.get().to_bits(),
        point.hold_w.to_bits(),
        point.heat_capacity_j_per_k.to_bits(),
        point.limit_above_control_k.to_bits(),
    ]
}

fn gains_words(point: &Gains) -> Group {
    [
        point.at.get().to_bits(),
        point.proportional.to_bits(),
        point.integral.to_bits(),
        point.derivative.to_bits(),
    ]
}

fn length(points: usize) -> u32 {
    u32::try_from(points).unwrap_or(u32::MAX)
}
