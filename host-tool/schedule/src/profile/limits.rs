//! What the controller may do and how it does it: `[limits]`, `[[gains]]`, `[[feed_forward]]`.

use saggar_core::furnace::{FeedForward, Gains, Limits, TABLE_POINTS_MAX};
use saggar_core::units::Celsius;

use crate::document::Table;
use saggar_plant::say::{at_least, at_most};

pub(super) fn limits(table: Table<'_>, has_pump: bool) -> Option<Limits> {
    let furnace_max = table.number("furnace_max_celsius", 200.0..=1750.0);
    let programme_max = table.number("programme_max_celsius", 100.0..=1700.0);
    let overshoot = table.number("overshoot_max_kelvin", 1.0..=100.0);
    let ramp = table.number("ramp_max_kelvin_per_minute", 0.5..=500.0);
    let slew = table.number("slew_max_kelvin_per_second", 0.5..=200.0);
    let disagree = table.number("disagree_max_kelvin", 2.0..=150.0);
    let open = table.number("open_below_celsius", 40.0..=1300.0);
    let vent = match (has_pump, open) {
        (true, _) => table.number("vent_below_celsius", 40.0..=1300.0),
        // Without a pump there is nothing to vent.
        (false, open) => table.number_if("vent_below_celsius", 40.0..=1300.0).or(open),
    };
    let hours = table.number("firing_max_hour", 0.1..=168.0);
    if let (Some(furnace), Some(programme), Some(overshoot)) =
        (furnace_max, programme_max, overshoot)
        && programme > furnace - overshoot
    {
        table.note(
            "programme_max_celsius",
            format!(
                "a programme to {programme} °C may overshoot by {overshoot} K, past the \
                 {furnace} °C that nothing may exceed"
            ),
            format!("allowed: {} or less", at_most(furnace - overshoot, 1)),
        );
    }
    if let (Some(ramp), Some(slew)) = (ramp, slew)
        && slew < 2.0 * ramp / 60.0
    {
        table.note(
            "slew_max_kelvin_per_second",
            format!("a ramp of {ramp} K/min would come near what counts as a broken sensor"),
            format!(
                "allowed: {} or more, twice the fastest ramp",
                at_least(2.0 * ramp / 60.0, 1)
            ),
        );
    }
    table.finish();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "its range lies far inside the type"
    )]
    Some(Limits {
        furnace_max: celsius(furnace_max?)?,
        programme_max: celsius(programme_max?)?,
        overshoot_max_k: single(overshoot?),
        ramp_max_k_per_min: single(ramp?),
        slew_max_k_per_s: single(slew?),
        disagree_max_k: single(disagree?),
        open_below: celsius(open?)?,
        vent_below: celsius(vent?)?,
        firing_max_s: (hours? * 3600.0) as u32,
    })
}

pub(super) fn gains(root: &Table<'_>) -> Option<heapless::Vec<Gains, TABLE_POINTS_MAX>> {
    points(root, "gains", |table| {
        let at = table.number("at_celsius", 0.0..=1800.0);
        let proportional = table.number("proportional_percent_per_kelvin", 0.001..=100.0);
        let integral = table.number("integral_percent_per_kelvin_second", 0.0..=10.0);
        let derivative =
            table.number_or("derivative_percent_second_per_kelvin", 0.0..=5000.0, 0.0);
        Some(Gains {
            at: celsius(at?)?,
            proportional: single(proportional? * 0.01),
            integral: single(integral? * 0.01),
            derivative: single(derivative * 0.01),
        })
    })
}

pub(super) fn feed_forward(
    root: &Table<'_>,
) -> Option<heapless::Vec<FeedForward, TABLE_POINTS_MAX>> {
    points(root, "feed_forward", |table| {
        let at = table.number("at_celsius", 0.0..=1800.0);
        let hold = table.number("hold_watt", 0.0..=20_000.0);
        let heat = table.number("joule_per_kelvin", 0.0..=100_000.0);
        Some(FeedForward {
            at: celsius(at?)?,
            hold_w: single(hold?),
            heat_capacity_j_per_k: single(heat?),
        })
    })
}

/// A list of points over temperature, coolest first.
fn points<T>(
    root: &Table<'_>,
    key: &'static str,
    read: impl Fn(&Table<'_>) -> Option<T>,
) -> Option<heapless::Vec<T, TABLE_POINTS_MAX>> {
    let mut list = heapless::Vec::new();
    let mut before = f64::NEG_INFINITY;
    let mut whole = true;
    for table in root.tables(key) {
        let point = read(&table);
        // A bad `at_celsius` was noted by `read`.
        let at = table.known_number("at_celsius");
        if at.is_some_and(|at| at <= before) {
            table.note(
                "at_celsius",
                format!(
                    "this point, at {} °C, does not follow the one before, at {before} °C",
                    at.unwrap_or(before)
                ),
                "sort the points from the coolest to the hottest, each once",
            );
        }
        before = at.unwrap_or(before);
        whole &= point.is_some();
        if let Some(point) = point
            && list.push(point).is_err()
        {
            table.note_at(
                table.span(),
                format!("`{key}` has more than {TABLE_POINTS_MAX} points"),
                format!("keep the {TABLE_POINTS_MAX} that matter; between them the core draws a line"),
            );
            break;
        }
        table.finish();
    }
    Some(list).filter(|list| whole && !list.is_empty())
}

fn celsius(value: f64) -> Option<Celsius> {
    Celsius::new(single(value))
}

/// The core computes in single precision.
#[expect(clippy::cast_possible_truncation, reason = "ranges lie far inside the type")]
pub(super) fn single(value: f64) -> f32 {
    value as f32
}
