//! The panels of the chart.

use saggar_bench::trace::{Row, Trace};
use saggar_verdict::format::{Scale, clock};
use saggar_verdict::{Finding, Outcome, Subject};

use super::curve::{Curve, CurveFormat, Series, curves, has_positive_value, series};
use super::panel::{ChartPanel, ChartPoint, Threshold};
use crate::Report;
use crate::axis::{self, AxisScale};
use crate::layout;

/// The panels from top to bottom, without those that have nothing to show.
pub(super) fn panels(report: &Report<'_>) -> Vec<ChartPanel> {
    let (trace, scale) = (report.trace, report.terms.scale);
    let panels = [
        temperatures(trace, scale),
        depths(report),
        channel_differences(report),
        piece_differences(trace, scale),
        powers(trace),
        pressures(trace),
        remains(trace),
    ];
    panels.into_iter().flatten().collect()
}

fn temperatures(trace: &Trace, scale: Scale) -> Option<ChartPanel> {
    let element = Series {
        shown: false,
        ..series("element", "element", |row| Some(row.modelled?.element_c))
    };
    let all = [
        series("setpoint", "setpoint", |row| row.measured.setpoint_c),
        series("sensor", "sensor", |row| row.measured.sensor_c),
        series("limit channel", "limit", |row| row.measured.limit_c),
        series("piece", "piece", |row| Some(row.modelled?.piece_c)),
        series("muffle", "muffle", |row| Some(row.modelled?.muffle_c)),
        element,
    ];
    let (tolerance, unit) = (scale.difference_value(0.2), scale.unit());
    let format = CurveFormat { scale: AxisScale::Linear, unit, decimals: 1, tolerance };
    let curves = curves(trace, &all, &format, |c| scale.value(c));
    panel(format!("Temperature, {unit}"), 1.0, &format, None, curves)
}

/// The differences that the control corrects and that the interlock compares: a few kelvin, too
/// small to see in the panel of the temperatures.
fn channel_differences(report: &Report<'_>) -> Option<ChartPanel> {
    let all = [
        series("sensor − setpoint", "control", |row| {
            Some(row.measured.sensor_c? - row.measured.setpoint_c?)
        }),
        series("sensor − limit channel", "channels", |row| {
            Some(row.measured.sensor_c? - row.measured.limit_c?)
        }),
    ];
    let scale = report.terms.scale;
    let mut panel = differences("Control and channels", &all, report.trace, scale)?;
    let limits = report.channels_differ_max_k.into_iter().flat_map(|k| [k, -k]);
    panel.thresholds = limits
        .map(|k| {
            let label = format!("channels disagree beyond {}", scale.difference(k.abs()));
            Threshold { value: scale.difference_value(k), label }
        })
        .collect();
    Some(panel)
}

/// How far the piece and the muffle are behind the sensor, while there is a setpoint.
fn piece_differences(trace: &Trace, scale: Scale) -> Option<ChartPanel> {
    let all = [
        series("sensor − piece", "piece-lag", |row| {
            row.measured.setpoint_c?;
            Some(row.measured.sensor_c? - row.modelled?.piece_c)
        }),
        series("sensor − muffle", "muffle-lag", |row| {
            row.measured.setpoint_c?;
            Some(row.measured.sensor_c? - row.modelled?.muffle_c)
        }),
    ];
    differences("Sensor above piece and muffle", &all, trace, scale)
}

fn differences(title: &str, all: &[Series], trace: &Trace, scale: Scale) -> Option<ChartPanel> {
    let (tolerance, unit) = (scale.difference_value(0.2), scale.difference_unit());
    let format = CurveFormat { scale: AxisScale::Linear, unit, decimals: 1, tolerance };
    let curves = curves(trace, all, &format, |k| scale.difference_value(k));
    // Noise must not fill the panel.
    let range = Some((scale.difference_value(-5.0), scale.difference_value(5.0)));
    panel(format!("{title}, {unit}"), 0.45, &format, range, curves)
}

fn powers(trace: &Trace) -> Option<ChartPanel> {
    let all = [
        series("heater duty", "duty", |row| Some(row.measured.duty)),
        series("opening", "opening", |row| Some(row.modelled?.opening)),
    ];
    let format =
        CurveFormat { scale: AxisScale::Linear, unit: "%", decimals: 0, tolerance: 0.5 };
    let mut curves = curves(trace, &all, &format, |share| share * 100.0);
    curves.retain(|curve| curve.class == "duty" || has_positive_value(curve));
    let title = if curves.len() > 1 { "Heater duty and opening, %" } else { "Heater duty, %" };
    panel(title.into(), 0.35, &format, Some((0.0, 100.0)), curves)
}

fn pressures(trace: &Trace) -> Option<ChartPanel> {
    let all = [series("pressure", "pressure", Row::pressure_pa)];
    let format =
        CurveFormat { scale: AxisScale::Log, unit: "hPa", decimals: 1, tolerance: 0.004 };
    let curves = curves(trace, &all, &format, |pa| pa / 100.0);
    panel("Pressure, hPa (logarithmic)".into(), 0.35, &format, None, curves)
}

/// The depth of the glass against the wall that it has to get through.
fn depths(report: &Report<'_>) -> Option<ChartPanel> {
    let all = [series("glass depth", "depth", |row| Some(row.modelled?.depth_m))];
    let format =
        CurveFormat { scale: AxisScale::Linear, unit: "mm", decimals: 3, tolerance: 0.002 };
    let mut curves = curves(report.trace, &all, &format, |metre| metre * 1000.0);
    let found = report.verdict.find(|subject| matches!(subject, Subject::Infiltration { .. }));
    let wall_mm = found.map(|finding| finding.limit * 1e3).filter(|mm| mm.is_finite());
    // Work that is to be infiltrated has this panel even if no glass ever moved.
    curves.retain(|curve| wall_mm.is_some() || has_positive_value(curve));
    // Traces of glass before it flows must not look like a depth, and the wall needs space for a
    // label above it.
    let range = Some((0.0, wall_mm.map_or(0.1, |mm| mm * 1.3)));
    let title = "Depth that the glass has reached, mm".to_owned();
    let mut panel = panel(title, 0.5, &format, range, curves)?;
    panel.thresholds = wall_mm
        .map(|value| Threshold { value, label: format!("needed: the wall, {value:.2} mm") })
        .into_iter()
        .collect();
    panel.points = found.and_then(|finding| front(finding, report)).into_iter().collect();
    Some(panel)
}

/// Where the front came through the wall, or where it stopped.
fn front(finding: &Finding, report: &Report<'_>) -> Option<ChartPoint> {
    let Subject::Infiltration { depth_m, .. } = finding.subject else { return None };
    let value = depth_m * 1e3;
    let at_s = finding.at_s.unwrap_or_else(|| report.trace_s());
    let through = depth_m >= finding.limit;
    let (label, class) = if finding.outcome == Outcome::NotKnown {
        let what = if through { "through" } else { "stopped" };
        (format!("? {what} in the model at {}", clock(at_s)), "unknown")
    } else if through {
        (format!("✓ through at {}", clock(at_s)), "good")
    } else {
        (format!("✗ stopped at {value:.2} mm"), "bad")
    };
    (value.is_finite() && at_s.is_finite()).then_some(ChartPoint { at_s, value, label, class })
}

fn remains(trace: &Trace) -> Option<ChartPanel> {
    let all = [
        series("water left", "water", |row| Some(row.modelled?.water_left)),
        series("lubricant left", "lubricant", |row| Some(row.modelled?.lubricant_left)),
    ];
    let format =
        CurveFormat { scale: AxisScale::Linear, unit: "%", decimals: 1, tolerance: 0.2 };
    let mut curves = curves(trace, &all, &format, |share| share * 100.0);
    curves.retain(has_positive_value);
    let range = Some((0.0, 100.0));
    panel(
        "Remaining in the piece, % of the initial amount".into(),
        0.35,
        &format,
        range,
        curves,
    )
}

/// A panel for these curves; `None` if none of them has a value.
fn panel(
    title: String,
    height: f64,
    format: &CurveFormat,
    range: Option<(f64, f64)>,
    curves: Vec<Curve>,
) -> Option<ChartPanel> {
    let curves: Vec<Curve> = curves.into_iter().filter(|c| !c.runs.is_empty()).collect();
    if curves.is_empty() {
        return None;
    }
    let values = curves.iter().flat_map(|curve| curve.runs.iter().flatten()).map(|(_, v)| *v);
    let (low, high) = range.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
    let span = values.clone().fold(high, f64::max) - values.fold(low, f64::min);
    let (height, ticks_max) = layout::panel_height(height);
    Some(ChartPanel {
        title,
        scale: format.scale,
        range,
        top: 0.0,
        height,
        ticks_max,
        levels: axis::levels(format.scale, span, format.decimals),
        margin: format.tolerance.max(format.scale.margin()),
        curves,
        thresholds: Vec::new(),
        points: Vec::new(),
    })
}
