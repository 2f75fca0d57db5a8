//! One curve: its stretches without gaps, thinned to what can be seen and read.

use saggar_bench::trace::{Row, Trace};
use serde::{Serialize, Serializer};

use crate::axis::AxisScale;
use crate::thin::thin_to;

/// Most points of one curve, so that the page of the noisiest firing stays below a megabyte.
const POINTS_MAX: usize = 3000;

/// Most stretches of one curve. If a faulty sensor has more gaps than that, only the longest stretches
/// are kept.
const STRETCHES_MAX: usize = 300;

/// One curve.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Curve {
    /// Its name in the legend.
    pub(crate) name: &'static str,
    /// Class of its line in the style sheet.
    pub(crate) class: &'static str,
    /// Unit of its values.
    pub(crate) unit: &'static str,
    /// Decimals to read it out with.
    pub(crate) decimals: usize,
    /// Shown at first; the reader can hide or show it.
    pub(crate) shown: bool,
    /// Stretches without gaps: time (s) and value, one after the other.
    #[serde(serialize_with = "as_text")]
    pub(crate) runs: Vec<Vec<(f64, f64)>>,
    /// Largest distance of the thinned curve from the trace, in axis units.
    #[serde(skip)]
    pub(crate) deviation_max: f64,
    /// Number of points that thinning left out.
    #[serde(skip)]
    pub(crate) points_dropped: usize,
}

/// A quantity of the trace that becomes a curve.
pub(super) struct Series {
    pub(super) name: &'static str,
    pub(super) class: &'static str,
    pub(super) shown: bool,
    pub(super) value: fn(&Row) -> Option<f64>,
}

/// How the values of a panel are scaled, rounded and thinned.
pub(super) struct CurveFormat {
    pub(super) scale: AxisScale,
    pub(super) unit: &'static str,
    pub(super) decimals: usize,
    /// Thinning tolerance in axis units, finer than the eye or the instrument.
    pub(super) tolerance: f64,
}

pub(super) const fn series(
    name: &'static str,
    class: &'static str,
    value: fn(&Row) -> Option<f64>,
) -> Series {
    Series { name, class, shown: true, value }
}

/// At least one value is above zero.
pub(super) fn has_positive_value(curve: &Curve) -> bool {
    curve.runs.iter().flatten().any(|(_, value)| *value > 0.0)
}

pub(super) fn curves(
    trace: &Trace,
    all: &[Series],
    format: &CurveFormat,
    shown_as: impl Fn(f64) -> f64,
) -> Vec<Curve> {
    let one = |series: &Series| curve(trace, series, format, &shown_as);
    all.iter().map(one).collect()
}

fn curve(
    trace: &Trace,
    series: &Series,
    format: &CurveFormat,
    shown_as: &impl Fn(f64) -> f64,
) -> Curve {
    let value = |row: &Row| {
        let value = shown_as((series.value)(row)?);
        format.scale.to_axis(value).is_finite().then_some((row.at_s, value))
    };
    let mut stretches = stretches(trace, value);
    let all: usize = stretches.iter().map(Vec::len).sum();
    keep_longest(&mut stretches);
    let (mut deviation_max, mut runs) = (0.0_f64, Vec::new());
    for stretch in stretches {
        // Each stretch has its share of the points, and always its ends.
        let points_max = (POINTS_MAX * stretch.len() / all).max(2);
        let in_axis_units = |(at_s, value): &(f64, f64)| (*at_s, format.scale.to_axis(*value));
        let scaled: Vec<(f64, f64)> = stretch.iter().map(in_axis_units).collect();
        let (kept, furthest) = thin_to(&scaled, format.tolerance, points_max);
        deviation_max = deviation_max.max(furthest);
        let kept = kept.into_iter().filter_map(|index| stretch.get(index));
        runs.push(kept.map(|point| rounded(*point, format)).collect::<Vec<_>>());
    }
    let left: usize = runs.iter().map(Vec::len).sum();
    let Series { name, class, shown, .. } = *series;
    let CurveFormat { unit, decimals, .. } = *format;
    Curve {
        name,
        class,
        unit,
        decimals,
        shown,
        runs,
        deviation_max,
        points_dropped: all - left,
    }
}

/// Values that follow one another without a gap, in the order of time. A row whose time is not
/// a number, or not after the row before, has no place on a time axis.
fn stretches(
    trace: &Trace,
    value: impl Fn(&Row) -> Option<(f64, f64)>,
) -> Vec<Vec<(f64, f64)>> {
    let (mut runs, mut open) = (Vec::new(), Vec::new());
    let mut last_s = f64::NEG_INFINITY;
    for row in &trace.rows {
        if !row.at_s.is_finite() || row.at_s <= last_s {
            continue;
        }
        last_s = row.at_s;
        match value(row) {
            Some(point) => open.push(point),
            None if open.is_empty() => {}
            None => runs.push(std::mem::take(&mut open)),
        }
    }
    if !open.is_empty() {
        runs.push(open);
    }
    runs
}

fn keep_longest(stretches: &mut Vec<Vec<(f64, f64)>>) {
    let mut lengths: Vec<usize> = stretches.iter().map(Vec::len).collect();
    lengths.sort_unstable_by(|a, b| b.cmp(a));
    if let Some(too_short) = lengths.get(STRETCHES_MAX) {
        stretches.retain(|stretch| stretch.len() > *too_short);
    }
}

/// Rounds a point to keep the page small: one decimal more than is read out keeps lines smooth, and
/// four significant digits are enough on a logarithmic axis.
fn rounded((at_s, value): (f64, f64), format: &CurveFormat) -> (f64, f64) {
    let decimals = match format.scale {
        AxisScale::Linear => format.decimals as i32 + 1,
        AxisScale::Log => 3 - value.log10().floor() as i32,
    };
    let power = 10_f64.powi(decimals);
    ((at_s * 1000.0).round() / 1000.0, (value * power).round() / power)
}

/// Serialises stretches as text, times and values in turn: shorter than nested lists.
fn as_text<S: Serializer>(runs: &[Vec<(f64, f64)>], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(runs.iter().map(|run| {
        let points: Vec<String> =
            run.iter().map(|(at_s, value)| format!("{at_s} {value}")).collect();
        points.join(" ")
    }))
}
