//! One curve: its stretches without gaps, thinned to what can be seen and read.

use saggar_bench::trace::{Row, Trace};
use serde::{Serialize, Serializer};

use crate::axis::AxisScale;
use crate::thin::thin_to;

/// Most points of one curve, so that the page of the noisiest firing stays below a megabyte.
const POINTS_MAX: usize = 3000;

/// Most stretches of one curve. A sensor that comes and goes more often than that is no curve;
/// the longest stretches are kept.
const STRETCHES_MAX: usize = 300;

/// One curve.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Curve {
    /// Name for people.
    pub(crate) name: &'static str,
    /// Class of its line in the style sheet.
    pub(crate) class: &'static str,
    /// Unit of its values.
    pub(crate) unit: &'static str,
    /// Decimals that make sense.
    pub(crate) decimals: usize,
    /// Shown until the reader says otherwise.
    pub(crate) shown: bool,
    /// Stretches without gaps: time (s) and value, one after the other.
    #[serde(serialize_with = "as_text")]
    pub(crate) runs: Vec<Vec<(f64, f64)>>,
    /// Furthest that the stretches are from the trace, on the ruler of the axis.
    #[serde(skip)]
    pub(crate) off: f64,
    /// Points left out.
    #[serde(skip)]
    pub(crate) dropped: usize,
}

/// What a curve is drawn from.
pub(super) struct Series {
    pub(super) name: &'static str,
    pub(super) class: &'static str,
    pub(super) shown: bool,
    pub(super) value: fn(&Row) -> Option<f64>,
}

/// How the values of a panel are shown.
pub(super) struct CurveFormat {
    pub(super) spread: AxisScale,
    pub(super) unit: &'static str,
    pub(super) decimals: usize,
    /// On the ruler of the axis, finer than the eye or the instrument.
    pub(super) tolerance: f64,
}

pub(super) const fn source(
    name: &'static str,
    class: &'static str,
    value: fn(&Row) -> Option<f64>,
) -> Series {
    Series { name, class, shown: true, value }
}

/// Any value above nothing.
pub(super) fn has_some(curve: &Curve) -> bool {
    curve.runs.iter().flatten().any(|(_, value)| *value > 0.0)
}

pub(super) fn curves(
    trace: &Trace,
    sources: &[Series],
    form: &CurveFormat,
    shown_as: impl Fn(f64) -> f64,
) -> Vec<Curve> {
    let one = |source: &Series| curve(trace, source, form, &shown_as);
    sources.iter().map(one).collect()
}

fn curve(
    trace: &Trace,
    source: &Series,
    form: &CurveFormat,
    shown_as: &impl Fn(f64) -> f64,
) -> Curve {
    let value = |row: &Row| {
        let value = shown_as((source.value)(row)?);
        form.spread.ruler(value).is_finite().then_some((row.at_s, value))
    };
    let mut stretches = stretches(trace, value);
    let all: usize = stretches.iter().map(Vec::len).sum();
    keep_longest(&mut stretches);
    let (mut off, mut runs) = (0.0_f64, Vec::new());
    for stretch in stretches {
        // Each stretch has its share of the points, and always its ends.
        let most = (POINTS_MAX * stretch.len() / all).max(2);
        let ruler = |(at_s, value): &(f64, f64)| (*at_s, form.spread.ruler(*value));
        let on_ruler: Vec<(f64, f64)> = stretch.iter().map(ruler).collect();
        let (kept, furthest) = thin_to(&on_ruler, form.tolerance, most);
        off = off.max(furthest);
        let kept = kept.into_iter().filter_map(|index| stretch.get(index));
        runs.push(kept.map(|point| rounded(*point, form)).collect::<Vec<_>>());
    }
    let left: usize = runs.iter().map(Vec::len).sum();
    let Series { name, class, shown, .. } = *source;
    let CurveFormat { unit, decimals, .. } = *form;
    Curve { name, class, unit, decimals, shown, runs, off, dropped: all - left }
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

/// A point with no more digits than make sense: one decimal more than is read out keeps lines
/// smooth, and four digits are enough where values go over decades.
fn rounded((at_s, value): (f64, f64), form: &CurveFormat) -> (f64, f64) {
    let decimals = match form.spread {
        AxisScale::Linear => form.decimals as i32 + 1,
        AxisScale::Log => 3 - value.log10().floor() as i32,
    };
    let power = 10_f64.powi(decimals);
    ((at_s * 1000.0).round() / 1000.0, (value * power).round() / power)
}

/// Stretches as text: times and values in turn, shorter than lists of lists.
fn as_text<S: Serializer>(runs: &[Vec<(f64, f64)>], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(runs.iter().map(|run| {
        let points: Vec<String> =
            run.iter().map(|(at_s, value)| format!("{at_s} {value}")).collect();
        points.join(" ")
    }))
}
