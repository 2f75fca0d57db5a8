//! Converts `[limits]`, `[[gains]]` and `[[feed_forward]]`.

use saggar_core::furnace::{FeedForward, Gains, Limits, TABLE_POINTS_MAX};
use saggar_core::units::Celsius;

use crate::document::{KeyDiagnostics, Section as _};
use crate::keys::profile as keys;
use saggar_verdict::format::{lower_limit, upper_limit};

pub(super) fn limits(keys: &keys::Limits, notes: KeyDiagnostics<'_>) -> Option<Limits> {
    let keys = &keys.with_defaults();
    let (furnace_max, programme_max) = (keys.furnace_max_celsius, keys.programme_max_celsius);
    let overshoot = keys.overshoot_max_kelvin;
    let (ramp, slew) = (keys.ramp_max_kelvin_per_minute, keys.slew_max_kelvin_per_second);
    if let (Some(furnace), Some(programme), Some(overshoot)) =
        (furnace_max, programme_max, overshoot)
        && programme > furnace - overshoot
    {
        notes.at_value(
            "limits.programme_max_celsius",
            format!(
                "a programme to {programme} °C may overshoot by {overshoot} K, above \
                 `furnace_max_celsius`, {furnace} °C"
            ),
            format!("allowed: {} or less", upper_limit(furnace - overshoot, 1)),
        );
    }
    if let (Some(ramp), Some(slew)) = (ramp, slew)
        && slew < 2.0 * ramp / 60.0
    {
        notes.at_value(
            "limits.slew_max_kelvin_per_second",
            format!("this is too close to a ramp of {ramp} K/min: the ramp could look like a sensor fault"),
            format!(
                "allowed: {} or more, twice the fastest ramp",
                lower_limit(2.0 * ramp / 60.0, 1)
            ),
        );
    }
    let open = keys.open_below_celsius;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "its range lies far inside the type"
    )]
    Some(Limits {
        furnace_max: celsius(furnace_max?)?,
        programme_max: celsius(programme_max?)?,
        overshoot_max_k: to_f32(overshoot?),
        ramp_max_k_per_min: to_f32(ramp?),
        slew_max_k_per_s: to_f32(slew?),
        disagree_max_k: to_f32(keys.disagree_max_kelvin?),
        settled_difference_max_k: to_f32(keys.settled_difference_max_kelvin?),
        start_below: celsius(keys.start_below_celsius?)?,
        open_below: celsius(open?)?,
        vent_below: celsius(keys.vent_below_celsius.or(open)?)?,
        firing_max_s: (keys.firing_max_hour? * 3600.0) as u32,
    })
}

pub(super) fn gains(
    keys: &[keys::Gain],
    notes: KeyDiagnostics<'_>,
) -> Option<heapless::Vec<Gains, TABLE_POINTS_MAX>> {
    check_ascending("gains", keys.iter().map(|point| point.at_celsius), notes);
    let point = |keys: &keys::Gain| {
        let keys = keys.with_defaults();
        Some(Gains {
            at: celsius(keys.at_celsius?)?,
            proportional: to_f32(keys.proportional_percent_per_kelvin? * 0.01),
            integral: to_f32(keys.integral_percent_per_kelvin_second? * 0.01),
            derivative: to_f32(keys.derivative_percent_second_per_kelvin? * 0.01),
        })
    };
    points(keys, point)
}

pub(super) fn feed_forward(
    keys: &[keys::FeedForward],
    notes: KeyDiagnostics<'_>,
) -> Option<heapless::Vec<FeedForward, TABLE_POINTS_MAX>> {
    check_ascending("feed_forward", keys.iter().map(|point| point.at_celsius), notes);
    let point = |keys: &keys::FeedForward| {
        let keys = keys.with_defaults();
        Some(FeedForward {
            at: celsius(keys.at_celsius?)?,
            hold_w: to_f32(keys.hold_watt?),
            heat_capacity_j_per_k: to_f32(keys.joule_per_kelvin?),
            limit_above_control_k: to_f32(keys.limit_above_control_kelvin?),
        })
    };
    points(keys, point)
}

/// A list of points; `None` if one of them could not be read.
fn points<K, T>(
    keys: &[K],
    point: impl Fn(&K) -> Option<T>,
) -> Option<heapless::Vec<T, TABLE_POINTS_MAX>> {
    let mut list = heapless::Vec::new();
    keys.iter().try_for_each(|keys| list.push(point(keys)?).ok())?;
    Some(list).filter(|list| !list.is_empty())
}

/// Notes points that are not in ascending order of temperature, and too many of them.
fn check_ascending(
    key: &str,
    points: impl Iterator<Item = Option<f64>>,
    notes: KeyDiagnostics<'_>,
) {
    let mut before = f64::NEG_INFINITY;
    for (index, at) in points.enumerate() {
        let Some(at) = at else { continue };
        if at <= before {
            notes.at_value(
                &format!("{key}[{}].at_celsius", index + 1),
                format!(
                    "this point, at {at} °C, does not follow the one before, at {before} °C"
                ),
                "sort the points from the coolest to the hottest, each once",
            );
        }
        before = at;
    }
    let next = format!("{key}[{}]", TABLE_POINTS_MAX + 1);
    if notes.locations.has(&next) {
        notes.at_value(
            &next,
            format!("`{key}` has more than {TABLE_POINTS_MAX} points"),
            format!(
                "keep the {TABLE_POINTS_MAX} that matter; between them the core draws a line"
            ),
        );
    }
}

fn celsius(value: f64) -> Option<Celsius> {
    Celsius::new(to_f32(value))
}

/// The core computes in single precision.
#[expect(clippy::cast_possible_truncation, reason = "ranges lie far inside the type")]
pub(super) fn to_f32(value: f64) -> f32 {
    value as f32
}
