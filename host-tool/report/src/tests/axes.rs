//! Axes, thinning of curves, and stage labels.

use proptest::prelude::*;

use crate::axis::{Axis, AxisScale, clock_levels, levels, time_ticks};
use crate::layout::{StageSpan, place_stage_labels};
use crate::thin::{thin, thin_to};
use saggar_verdict::format::{clock, padded_duration};

proptest! {
    #[test]
    fn an_axis_covers_its_values_with_two_to_nine_labels(
        (a, b) in (-1e4..1e4_f64, -1e4..1e4_f64),
        (c, d) in (-2.0..5.0_f64, -2.0..5.0_f64),
    ) {
        let linear = Axis::over(AxisScale::Linear, a.min(b), a.max(b), 5.0);
        let (low, high) = (10_f64.powf(c.min(d)), 10_f64.powf(c.max(d)));
        let log = Axis::over(AxisScale::Log, low, high, 5.0);
        for (axis, low, high) in [(linear, a.min(b), a.max(b)), (log, low, high)] {
            // The end of an axis may be off by a thousandth of its value; on the shortest
            // axis, 1 to 2, that is slightly more than a thousandth of its length.
            prop_assert!(axis.share_of(low) >= -0.0015 && axis.share_of(high) <= 1.0015, "{axis:?}");
            prop_assert!(axis.share_of(high) - axis.share_of(low) >= 0.0);
            prop_assert!((2..=9).contains(&axis.ticks.len()), "{axis:?}");
            for tick in &axis.ticks {
                prop_assert!((-1e-9..=1.0 + 1e-9).contains(&axis.share_of(*tick)));
            }
        }
    }

    #[test]
    fn thinning_keeps_the_ends_and_stays_within_its_bound(
        values in prop::collection::vec(-100.0..100.0_f64, 1..200),
        tolerance in 0.01..50.0_f64,
    ) {
        let points: Vec<(f64, f64)> =
            values.iter().enumerate().map(|(index, value)| (index as f64, *value)).collect();
        let kept = thin(&points, tolerance);
        prop_assert_eq!((kept[0], kept[kept.len() - 1]), (0, points.len() - 1));
        for pair in kept.windows(2) {
            let (from, to) = (points[pair[0]], points[pair[1]]);
            for point in &points[pair[0]..=pair[1]] {
                let line = from.1 + (to.1 - from.1) * (point.0 - from.0) / (to.0 - from.0);
                prop_assert!((line - point.1).abs() <= tolerance * (1.0 + 1e-9) + 1e-9);
            }
        }
        let (few, off) = thin_to(&points, tolerance, 10);
        prop_assert!(few.len() <= 12, "at most 10 points and the two ends");
        prop_assert!(few.windows(2).all(|pair| pair[0] < pair[1]));
        let extreme = |pick: fn(f64, f64) -> f64, of: &[usize]| {
            of.iter().map(|index| points[*index].1).reduce(pick).expect("a point")
        };
        let all: Vec<usize> = (0..points.len()).collect();
        for pick in [f64::min, f64::max] {
            prop_assert!((extreme(pick, &few) - extreme(pick, &all)).abs() <= off + 1e-9);
        }
    }
}

#[test]
fn thinning_reduces_a_straight_line_to_two_points_and_keeps_a_peak() {
    let line: Vec<(f64, f64)> = (0..1000).map(|i| (f64::from(i), f64::from(i) * 0.3)).collect();
    assert_eq!(thin(&line, 0.01), [0, 999]);
    let mut peak = line;
    peak[500].1 += 40.0;
    assert_eq!(thin(&peak, 0.01), [0, 499, 500, 501, 999]);
}

#[test]
fn an_axis_over_a_single_value_has_a_margin_around_it() {
    let axis = Axis::over(AxisScale::Linear, 21.5, 21.5, 5.0);
    let share = axis.share_of(21.5);
    assert!(share > 0.1 && share < 0.9, "{axis:?}");
    let decades = Axis::over(AxisScale::Log, 20.0, 1013.25, 5.0);
    assert_eq!(decades.ticks, [20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0]);
}

#[test]
fn time_axis_labels_are_clock_times() {
    assert_eq!(time_ticks(7199.0, 12.0).len(), 12);
    assert_eq!(
        time_ticks(200_000.0, 12.0).last().map(|at_s| clock(*at_s)),
        Some("48:00".into())
    );
    assert_eq!(clock(3671.4), "1:01:11");
    assert_eq!(clock(3540.0), "0:59");
    assert_eq!(padded_duration(3599.6), "1\u{a0}h 00\u{a0}min");
    assert_eq!(padded_duration(f64::NAN), "–");
}

#[test]
fn tick_levels_go_from_one_label_to_one_digit_beyond_the_values() {
    let steps = |all: &[crate::axis::TickLevel]| {
        let all = serde_json::to_value(all).expect("JSON");
        let step = |level: &serde_json::Value| level["step"].as_f64().expect("a number");
        all.as_array().expect("a list").iter().map(step).collect::<Vec<_>>()
    };
    let linear = steps(&levels(AxisScale::Linear, 1100.0, 0));
    let wanted =
        [2000.0, 1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1];
    assert_eq!(linear.len(), wanted.len());
    assert!(linear.iter().zip(wanted).all(|(step, wanted)| (step / wanted - 1.0).abs() < 1e-9));
    assert_eq!(steps(&levels(AxisScale::Linear, 0.0, 1)).len(), 1);
    assert!(levels(AxisScale::Linear, 1e300, 0).len() <= 40);
    assert_eq!(levels(AxisScale::Linear, f64::NAN, 0).len(), 1);
    assert_eq!(levels(AxisScale::Log, 3.0, 1).len(), 4);
    assert!(steps(&clock_levels()).windows(2).all(|pair| pair[0] > pair[1]));
}

#[test]
fn stage_labels_are_whole_or_a_number_and_never_overlap() {
    let labels = ["1 Ramp", "2 dry the coat", "3 Ramp", "12 infiltrate", "13 Cool"];
    let ends = [0.1, 0.3, 0.302, 0.304, 1.0];
    let mut from = 0.0;
    let span = |(label, to): (&'static str, f64)| {
        let number = label.split(' ').next().expect("a number").to_owned();
        StageSpan { label, number, from: std::mem::replace(&mut from, to), to }
    };
    let stages: Vec<StageSpan<'_>> = labels.into_iter().zip(ends).map(span).collect();
    let texts = |rows, width| -> Vec<Option<String>> {
        let placed = place_stage_labels(&stages, rows, width);
        placed.into_iter().map(|spot| spot.map(|spot| spot.text)).collect()
    };
    let some = |texts: [&str; 5]| texts.map(|text| Some(text.to_owned())).to_vec();
    let wide = some(["1 Ramp", "2 dry the coat", "3", "12", "13 Cool"]);
    assert_eq!(texts(2, 1040.0), wide, "a number may be wider than its stage");
    assert_eq!(texts(1, 1040.0)[3], None, "one row has no space for two numbers");
    assert_eq!(texts(2, 390.0), some(["1", "2", "3", "12", "13 Cool"]));
    let placed = place_stage_labels(&stages, 2, 1040.0);
    let y = |index: usize| placed[index].as_ref().expect("placed").y;
    assert!(y(3) > y(2), "the second number is in the next row");
}
