//! What the chart shows: panels with curves, bands and marks. The drawing and the page's script
//! both work from this.

pub(super) mod curve;

use saggar_bench::trace::{Row, Trace};
use saggar_plant::format::Scale;
use serde::Serialize;

use curve::{Curve, CurveFormat, Series, curves, has_some, source};

use crate::Report;
use crate::axis::{self, AxisScale, TickLevel};
use crate::event_text;
use crate::layout::{self, ChartFrame};

/// The chart.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartModel {
    /// The paper.
    pub(super) frame: ChartFrame,
    /// Length of the time axis (s), more than 0.
    pub(super) end_s: f64,
    /// Ticks of the time axis.
    pub(super) levels: Vec<TickLevel>,
    /// Panels from top to bottom; one that has nothing to show is left out.
    pub(super) panels: Vec<ChartPanel>,
    /// Stages.
    pub(super) bands: Vec<ChartBand>,
    /// Events with a line of their own.
    pub(super) marks: Vec<ChartMark>,
}

/// One panel.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartPanel {
    /// Title with the unit.
    pub(super) title: String,
    /// How its values are spread.
    pub(super) spread: AxisScale,
    /// A range that is always shown.
    pub(super) range: Option<(f64, f64)>,
    /// Its upper end on the paper (px).
    pub(super) top: f64,
    /// Its height on the paper (px).
    pub(super) height: f64,
    /// About how many labels its axis has room for.
    pub(super) most: f64,
    /// Ticks of its axis.
    pub(super) levels: Vec<TickLevel>,
    /// Least room above and below its curves, on the ruler.
    pub(super) room: f64,
    /// Curves.
    pub(super) curves: Vec<Curve>,
}

/// A stage.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartBand {
    /// Which stage of its file.
    pub(super) number: usize,
    /// Name.
    pub(super) name: String,
    /// What it does, with its kind in front.
    pub(super) what: String,
    /// Beginning (s).
    pub(super) from_s: f64,
    /// End (s).
    pub(super) to_s: f64,
    /// Forms of its label, the longest first.
    pub(super) forms: Vec<String>,
}

impl ChartBand {
    /// Its whole label.
    pub(super) fn label(&self) -> String {
        format!("{} {}", self.number, self.name)
    }
}

/// An event with a line of its own.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ChartMark {
    /// When (s).
    pub(super) at_s: f64,
    /// What, in a word or three.
    pub(super) name: String,
}

/// The chart of a report.
pub(super) fn model(report: &Report<'_>) -> ChartModel {
    let trace = report.trace;
    let panels = [
        temperatures(trace, report.terms.scale),
        powers(trace),
        pressures(trace),
        depths(trace),
        remains(trace),
    ];
    let bands = report.stages.iter().filter(|b| b.from_s.is_finite() && b.to_s > b.from_s);
    let bands = bands.map(|band| {
        let mut shown = ChartBand {
            number: band.number,
            name: event_text::legible(&band.title()).into_owned(),
            what: event_text::legible(&format!("{} {}", band.kind, band.what))
                .trim()
                .to_owned(),
            from_s: band.from_s,
            to_s: band.to_s,
            forms: Vec::new(),
        };
        shown.forms = layout::forms(&shown.label());
        shown
    });
    let marks = trace.events.iter().filter_map(|event| {
        let at_s = event_text::at_s(event);
        event_text::event_label(event.kind).map(|name| ChartMark { at_s, name })
    });
    let trace_s = report.trace_s();
    let end_s = if trace_s > 0.0 { trace_s } else { 1.0 };
    let within = |at_s: f64| (0.0..=end_s + 1.0).contains(&at_s);
    let mut panels: Vec<ChartPanel> = panels.into_iter().flatten().collect();
    let (frame, tops) = ChartFrame::of(panels.iter().map(|panel| panel.height));
    panels.iter_mut().zip(tops).for_each(|(panel, top)| panel.top = top);
    ChartModel {
        frame,
        end_s,
        levels: axis::clock_levels(),
        panels,
        bands: bands.filter(|band| within(band.from_s)).collect(),
        marks: marks.filter(|mark| within(mark.at_s)).collect(),
    }
}

fn temperatures(trace: &Trace, shown: Scale) -> Option<ChartPanel> {
    let element = Series {
        shown: false,
        ..source("element", "element", |row| Some(row.modelled?.element_c))
    };
    let sources = [
        source("setpoint", "setpoint", |row| row.measured.setpoint_c),
        source("sensor", "sensor", |row| row.measured.sensor_c),
        source("piece", "piece", |row| Some(row.modelled?.piece_c)),
        source("muffle", "muffle", |row| Some(row.modelled?.muffle_c)),
        element,
    ];
    let tolerance = shown.difference_value(0.2);
    let unit = shown.unit();
    let form = CurveFormat { spread: AxisScale::Linear, unit, decimals: 1, tolerance };
    let curves = curves(trace, &sources, &form, |c| shown.value(c));
    panel(format!("Temperature, {unit}"), 1.0, &form, None, curves)
}

fn powers(trace: &Trace) -> Option<ChartPanel> {
    let sources = [
        source("heater duty", "duty", |row| Some(row.measured.duty)),
        source("opening", "opening", |row| Some(row.modelled?.opening)),
    ];
    let form =
        CurveFormat { spread: AxisScale::Linear, unit: "%", decimals: 0, tolerance: 0.5 };
    let mut curves = curves(trace, &sources, &form, |share| share * 100.0);
    curves.retain(|curve| curve.class == "duty" || has_some(curve));
    let title = if curves.len() > 1 { "Heater duty and opening, %" } else { "Heater duty, %" };
    panel(title.into(), 0.4, &form, Some((0.0, 100.0)), curves)
}

fn pressures(trace: &Trace) -> Option<ChartPanel> {
    let sources = [source("pressure", "pressure", Row::pressure_pa)];
    let form =
        CurveFormat { spread: AxisScale::Log, unit: "hPa", decimals: 1, tolerance: 0.004 };
    let curves = curves(trace, &sources, &form, |pa| pa / 100.0);
    panel("Pressure, hPa (logarithmic)".into(), 0.4, &form, None, curves)
}

fn depths(trace: &Trace) -> Option<ChartPanel> {
    let sources = [source("glass depth", "depth", |row| Some(row.modelled?.depth_m))];
    let form =
        CurveFormat { spread: AxisScale::Linear, unit: "mm", decimals: 3, tolerance: 0.002 };
    let mut curves = curves(trace, &sources, &form, |metre| metre * 1000.0);
    curves.retain(has_some);
    // Traces of glass before it flows must not look like a depth.
    let range = Some((0.0, 0.1));
    panel("Depth that the glass has reached, mm".into(), 0.4, &form, range, curves)
}

fn remains(trace: &Trace) -> Option<ChartPanel> {
    let sources = [
        source("water left", "water", |row| Some(row.modelled?.water_left)),
        source("lubricant left", "lubricant", |row| Some(row.modelled?.lubricant_left)),
    ];
    let form =
        CurveFormat { spread: AxisScale::Linear, unit: "%", decimals: 1, tolerance: 0.2 };
    let mut curves = curves(trace, &sources, &form, |share| share * 100.0);
    curves.retain(has_some);
    let range = Some((0.0, 100.0));
    panel("Left in the piece, % of what there was".into(), 0.35, &form, range, curves)
}

fn panel(
    title: String,
    height: f64,
    form: &CurveFormat,
    range: Option<(f64, f64)>,
    curves: Vec<Curve>,
) -> Option<ChartPanel> {
    let curves: Vec<Curve> = curves.into_iter().filter(|c| !c.runs.is_empty()).collect();
    let widest = curves.iter().flat_map(|curve| curve.runs.iter().flatten()).map(|(_, v)| *v);
    let (low, high) = range.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
    let span = widest.clone().fold(high, f64::max) - widest.fold(low, f64::min);
    let levels = axis::levels(form.spread, span, form.decimals);
    let room = form.tolerance.max(form.spread.room());
    let (height, most) = layout::tall(height);
    let some = !curves.is_empty();
    let spread = form.spread;
    some.then_some(ChartPanel {
        title,
        spread,
        range,
        top: 0.0,
        height,
        most,
        levels,
        room,
        curves,
    })
}
